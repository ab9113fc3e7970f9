// The flight over time: one row a quantity, all with one time axis; thinned values come from the server for what is seen.
import { decimal, said } from "/static/words.js";

const place = document.querySelector("[data-plot]");
const rows = place.querySelector("[data-plot-rows]");
const told = place.querySelector("[data-plot-read]");
const marks = JSON.parse(document.querySelector("[data-marks]").textContent);
const family = getComputedStyle(document.body).fontFamily;
const whole = [0, Math.max(Number(place.dataset.end), 1)];
const dashes = { 2: [8, 3], 3: [2, 3], 4: [8, 3, 2, 3], 5: [14, 4], 6: [5, 5], 7: [14, 4, 2, 4], 8: [1, 5] };
const black = document.documentElement.dataset.look === "sun" || matchMedia("(prefers-contrast: more)").matches;
const fields = Object.fromEntries([...document.querySelectorAll("[data-cursor]")].map((one) => [one.dataset.cursor, one]));
const also = place.querySelector("[data-also]");
const over = place.querySelector("[data-over]");
const chosen = new Set(marks.named);
const cursors = { a: null, b: null };
const tokens = new Map();
let shown = [...whole];
let plots = [];
let kept;
let asked = 0;
let waiting;

function token(name) {
  if (!tokens.has(name)) tokens.set(name, getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim());
  return tokens.get(name);
}

function time(text) {
  const parts = text.trim().split(":").map(Number);
  return text.trim() && parts.every(Number.isFinite) ? parts.reduce((all, part) => 60 * all + part, 0) : null;
}

function clock(seconds) {
  const s = Math.max(0, Math.round(seconds));
  return `${Math.floor(s / 3600)}:${String(Math.floor((s % 3600) / 60)).padStart(2, "0")}:${String(s % 60).padStart(2, "0")}`;
}

async function fetched(from, to) {
  const answer = await fetch(`${place.dataset.plot}?from=${from}&to=${to}${also && also.value ? `&also=${also.value}` : ""}`);
  if (!answer.ok) throw new Error(said("no-plot"));
  const bytes = await answer.arrayBuffer();
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  const values = new Float32Array(bytes, 4 + length);
  const line = (number) => values.subarray(number * head.steps, (number + 1) * head.steps);
  // Every step of time stands twice: once with the lowest value in it, once with the highest.
  const time = new Float64Array(2 * head.steps);
  line(0).forEach((at, step) => { time[2 * step] = at; time[2 * step + 1] = at + 1e-6; });
  const traces = head.channels.map((channel, number) => {
    const low = line(1 + 2 * number), high = line(2 + 2 * number);
    const trace = new Array(2 * head.steps);
    for (let step = 0; step < head.steps; step += 1) {
      trace[2 * step] = Number.isNaN(low[step]) ? null : low[step];
      trace[2 * step + 1] = Number.isNaN(high[step]) ? null : high[step];
    }
    return trace;
  });
  return { channels: head.channels, time, traces };
}

function hatched(context, x, y, wide, high) {
  context.save();
  context.beginPath();
  context.rect(x, y, wide, high);
  context.clip();
  context.strokeStyle = token("hatch");
  context.lineWidth = 1;
  const width = context.canvas.width;
  for (let at = Math.max(x, 0) - high; at < Math.min(x + wide, width); at += 8) {
    context.beginPath();
    context.moveTo(at, y + high);
    context.lineTo(at + high, y);
    context.stroke();
  }
  context.restore();
}

function shade(plot) {
  const { ctx: context, bbox: box } = plot;
  context.save();
  context.beginPath();
  context.rect(box.left, box.top, box.width, box.height);
  context.clip();
  let taken = -Infinity;
  marks.sweeps.forEach((sweep, number) => {
    const left = plot.valToPos(sweep.start_s, "x", true), right = plot.valToPos(sweep.end_s, "x", true);
    if (right < box.left || left > box.left + box.width) return;
    const wide = Math.max(right - left, 2);
    if (sweep.used) {
      context.fillStyle = token("wash");
      context.fillRect(left, box.top, wide, box.height);
    } else hatched(context, left, box.top, wide, box.height);
    if (sweep.by_hand) {
      context.setLineDash([6, 4]);
      context.strokeStyle = token("ink");
      context.strokeRect(left, box.top + 1, wide, box.height - 2);
      context.setLineDash([]);
    }
    context.fillStyle = token("accent");
    context.font = `${13 * devicePixelRatio}px ${family}`;
    const words = String(number + 1), room = context.measureText(words).width;
    if (plot === plots[0] || !plots.length) if (left > taken) { context.fillText(words, Math.max(left, box.left) + 3, box.top + 14 * devicePixelRatio); taken = left + room + 4; }
  });
  context.restore();
}

// The two cursors are drawn over everything: a line each, with its letter.
function cross(plot) {
  const { ctx: context, bbox: box } = plot;
  context.save();
  context.strokeStyle = context.fillStyle = token("ink");
  context.lineWidth = 1.5 * devicePixelRatio;
  context.font = `700 ${13 * devicePixelRatio}px ${family}`;
  for (const [letter, at] of Object.entries(cursors)) {
    if (at === null || at < shown[0] || at > shown[1]) continue;
    const x = plot.valToPos(at, "x", true);
    context.beginPath();
    context.moveTo(x, box.top);
    context.lineTo(x, box.top + box.height);
    context.stroke();
    if (plot === plots[0]) context.fillText(letter.toUpperCase(), x + 3 * devicePixelRatio, box.top + box.height - 4 * devicePixelRatio);
  }
  context.restore();
}

function legend(name, channels) {
  const heading = document.createElement("h3");
  heading.append(name);
  channels.filter((one) => one.cylinder).forEach((one) => {
    const part = document.createElement("label");
    const tick = document.createElement("input");
    tick.type = "checkbox";
    tick.checked = chosen.has(one.cylinder);
    tick.addEventListener("change", () => {
      chosen[tick.checked ? "add" : "delete"](one.cylinder);
      draw(kept);
      [...rows.querySelectorAll("h3")].find((other) => other.firstChild.textContent === name)?.querySelector(`input[value="${one.cylinder}"]`)?.focus();
    });
    tick.value = one.cylinder;
    part.innerHTML = `<svg width="26" height="8" aria-hidden="true"><line class="c${one.cylinder > 8 ? 0 : one.cylinder}" x1="0" y1="4" x2="26" y2="4" stroke-width="2.5" stroke-dasharray="${(dashes[one.cylinder] || []).join(" ")}"/></svg>`;
    part.prepend(tick);
    part.append(String(one.cylinder));
    heading.append(part);
  });
  return heading;
}

// Chosen cylinders in their colour and dash, the others thin: fewer lines cross, and fewer dashes are drawn.
function line(one) {
  if (!one.cylinder) return { stroke: token("ink"), width: 1.5 };
  if (!chosen.has(one.cylinder)) return { stroke: token("edge"), width: 1 };
  const colour = black || one.cylinder === 7 || one.cylinder > 8 ? "ink" : `c${one.cylinder}`;
  return { stroke: token(colour), width: 2, dash: dashes[one.cylinder] };
}

function stacked(channels) {
  return [...channels].sort((one, other) => chosen.has(one.cylinder) - chosen.has(other.cylinder));
}

// Below this lies a tenth of the readings. Where they would press all others into less than half of a panel, they leave it below.
function floor(traces) {
  const seen = traces.flatMap((trace) => trace.filter((one, at) => at % 8 === 0 && one !== null)).sort((one, other) => one - other);
  return seen.length ? seen[Math.floor(seen.length / 10)] : -Infinity;
}

function draw(data) {
  kept = data;
  rows.replaceChildren();
  plots.forEach((plot) => plot.destroy());
  plots = [];
  const groups = data.channels.map((one, at) => ({ ...one, at })).reduce((all, one) => all.set(one.panel, [...(all.get(one.panel) || []), one]), new Map());
  const laid = data.channels.findIndex((one) => over && one.name === over.value);
  const width = rows.clientWidth;
  const last = [...groups.keys()].at(-1);
  groups.forEach((every, name) => {
    const channels = stacked(every);
    const own = document.createElement("div");
    rows.append(legend(`${name}${every[0].unit ? `, ${every[0].unit}` : ""}`, every), own);
    const axis = { stroke: token("ink2"), grid: { stroke: token("line"), width: 1 }, ticks: { stroke: token("line") }, font: `13px ${family}` };
    const least = floor(channels.length > 1 ? channels.map((one) => data.traces[one.at]) : []);
    const wide = (_, lowest, high) => from(high - least < (high - lowest) / 2 && least > lowest ? least - (high - least) / 10 : lowest, high);
    const from = (low, high) => (high > low ? [low - (high - low) * 0.04, high + (high - low) * 0.04] : [low - 1, high + 1]);
    const lies = laid >= 0 && !channels.some((one) => one.at === laid);
    const traced = lies ? [...channels, { ...data.channels[laid], at: laid, laid: true }] : channels;
    const plot = new uPlot({
      width, height: (channels.length > 1 ? 190 : 100) + (name === last ? 24 : 0), legend: { show: false },
      cursor: { sync: { key: "flight" }, drag: { x: true, y: false, setScale: false }, points: { show: false } },
      scales: { x: { time: false, range: () => shown }, y: { range: wide }, ...(lies ? { laid: { range: wide } } : {}) },
      axes: [
        { ...axis, show: true, incrs: [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200], space: 70, size: name === last ? 36 : 8, values: name === last ? (_, all) => all.map((at) => clock(at)) : () => [] },
        { ...axis, size: 58, space: 28 },
        ...(laid >= 0 ? [{ ...axis, show: true, side: 1, scale: lies ? "laid" : "y", size: 58, space: 28, grid: { show: false } }] : []),
      ],
      series: [{}, ...traced.map((one) => ({ ...(one.laid ? { stroke: token("accent"), width: 1.5, scale: "laid" } : line(one)), points: { show: false }, spanGaps: false }))],
      hooks: { drawClear: [shade], draw: [cross], setSelect: [picked], setCursor: [read] },
    }, [data.time, ...traced.map((one) => data.traces[one.at])], own);
    plot.channels = traced;
    plot.over.addEventListener("click", (event) => clicked(plot, event));
    plots.push(plot);
  });
}

function put(letter, at) {
  cursors[letter] = Math.min(Math.max(at, 0), whole[1]);
  fields[letter].value = clock(cursors[letter]);
  plots.forEach((plot) => plot.redraw(false, false));
  const both = cursors.a !== null && cursors.b !== null;
  told.textContent = [
    said("cursor-at", { letter: letter.toUpperCase(), time: clock(cursors[letter]) }),
    ...(both ? [said("between-cursors", { time: clock(Math.abs(cursors.b - cursors.a)) })] : []),
  ].join(" ");
  clearTimeout(summing);
  if (both) summing = setTimeout(() => fields[letter].dispatchEvent(new Event("change", { bubbles: true })), 250);
}

let summing;
let dragged = false;

function clicked(plot, event) {
  if (dragged) dragged = false;
  else put(event.shiftKey ? "b" : "a", plot.posToVal(plot.cursor.left, "x"));
}

function picked(plot) {
  if (plot.select.width < 4) return;
  dragged = true;
  const from = plot.posToVal(plot.select.left, "x"), to = plot.posToVal(plot.select.left + plot.select.width, "x");
  plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
  const [start, end] = [document.querySelector("[data-start]"), document.querySelector("[data-end-field]")];
  if (start && end) { start.value = clock(from); end.value = clock(to); }
  look(from, to);
}

function read(plot) {
  const at = plot.cursor.idx;
  if (at == null || plot !== plots[0]) return;
  const values = plots.flatMap((one) => one.channels.map((channel, number) => [channel, one.data[number + 1][at]]));
  const words = values.filter(([channel, value]) => value != null && !channel.laid).map(([channel, value]) => `${channel.name} ${decimal(value, channel.decimals)} ${channel.unit}`);
  place.dataset.read = `${clock(plot.data[0][at])}: ${words.join(", ")}`;
  told.textContent = place.dataset.read;
}

function look(from, to) {
  const wide = Math.min(Math.max(to - from, 10), whole[1]);
  const start = Math.min(Math.max(from, 0), whole[1] - wide);
  shown = [start, start + wide];
  plots.forEach((plot) => plot.setScale("x", { min: shown[0], max: shown[1] }));
  clearTimeout(waiting);
  waiting = setTimeout(refine, 120);
}

async function refine() {
  const mine = ++asked;
  const pad = (shown[1] - shown[0]) / 4;
  try {
    const data = await fetched(Math.max(0, shown[0] - pad), Math.min(whole[1], shown[1] + pad));
    if (mine !== asked) return;
    kept = data;
    plots.forEach((plot) => plot.setData([data.time, ...plot.channels.map((one) => data.traces[one.at])]));
    told.textContent = said("seen-range", { start: clock(shown[0]), end: clock(shown[1]) });
  } catch (error) {
    told.textContent = error.message;
  }
}

const ways = {
  in: () => { const quarter = (shown[1] - shown[0]) / 4; look(shown[0] + quarter, shown[1] - quarter); },
  out: () => { const half = (shown[1] - shown[0]) / 2; look(shown[0] - half, shown[1] + half); },
  left: () => { const step = (shown[1] - shown[0]) / 4; look(shown[0] - step, shown[1] - step); },
  right: () => { const step = (shown[1] - shown[0]) / 4; look(shown[0] + step, shown[1] + step); },
  all: () => look(...whole),
};
const step = () => (shown[1] - shown[0]) / 200;
const middle = () => (shown[0] + shown[1]) / 2;
Object.assign(ways, {
  a: () => put("a", middle()),
  b: () => put("b", middle()),
  aBack: () => put("a", (cursors.a ?? middle()) - step()),
  aOn: () => put("a", (cursors.a ?? middle()) + step()),
  bBack: () => put("b", (cursors.b ?? middle()) - step()),
  bOn: () => put("b", (cursors.b ?? middle()) + step()),
});
const keys = {
  a: "a", A: "a", b: "b", B: "b", "[": "aBack", "]": "aOn", "{": "bBack", "}": "bOn",
  "+": "in", "=": "in", "-": "out", "−": "out", ArrowLeft: "left", ArrowRight: "right", 0: "all" };

place.querySelectorAll("[data-zoom]").forEach((button) => button.addEventListener("click", () => ways[button.dataset.zoom]()));
rows.addEventListener("keydown", (event) => {
  const way = keys[event.key];
  if (!way || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  ways[way]();
});
place.querySelector("[data-jump]").addEventListener("change", (event) => {
  if (!event.target.value) return;
  const [from, to] = event.target.value.split(" ").map(Number);
  look(from - (to - from) / 2, to + (to - from) / 2);
});
Object.entries(fields).forEach(([letter, field]) => field.addEventListener("change", () => {
  cursors[letter] = time(field.value);
  plots.forEach((plot) => plot.redraw(false, false));
}));
over?.addEventListener("change", () => draw(kept));
also?.addEventListener("change", async () => {
  try {
    let form = document.querySelector(".plot form[data-live] input[name=also]");
    if (!form) {
      form = Object.assign(document.createElement("input"), { type: "hidden", name: "also" });
      fields.a.form.append(form);
    }
    form.value = also.value;
    draw(await fetched(...shown));
    if (cursors.a !== null && cursors.b !== null) fields.a.dispatchEvent(new Event("change", { bubbles: true }));
  } catch (error) {
    told.textContent = error.message;
  }
});
let room = 0;
addEventListener("resize", () => {
  if (rows.clientWidth === room) return;
  room = rows.clientWidth;
  plots.forEach((plot) => plot.setSize({ width: room, height: plot.height }));
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => location.reload());

try {
  const data = await fetched(...whole);
  room = rows.clientWidth;
  draw(data);
  performance.mark("plotted");
  place.dataset.ready = "yes";
} catch (error) {
  told.textContent = error.message;
}
