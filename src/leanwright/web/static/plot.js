// The flight over time: one row a quantity, all with one time axis; thinned values come from the server for what is seen.
const place = document.querySelector("[data-plot]");
const rows = place.querySelector("[data-plot-rows]");
const told = place.querySelector("[data-plot-read]");
const marks = JSON.parse(document.querySelector("[data-marks]").textContent);
const whole = [0, Math.max(Number(place.dataset.end), 1)];
const dashes = { 2: [8, 3], 3: [2, 3], 4: [8, 3, 2, 3], 5: [14, 4], 6: [5, 5], 7: [14, 4, 2, 4], 8: [1, 5] };
const black = document.documentElement.dataset.look === "sun" || matchMedia("(prefers-contrast: more)").matches;
let shown = [...whole];
let plots = [];
let asked = 0;
let waiting;

function token(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

function clock(seconds) {
  const s = Math.max(0, Math.round(seconds));
  return `${Math.floor(s / 3600)}:${String(Math.floor((s % 3600) / 60)).padStart(2, "0")}:${String(s % 60).padStart(2, "0")}`;
}

async function fetched(from, to) {
  const answer = await fetch(`${place.dataset.plot}?from=${from}&to=${to}`);
  if (!answer.ok) throw new Error("The plot cannot be had: the session may have ended. Open the page anew.");
  const bytes = await answer.arrayBuffer();
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  const values = new Float32Array(bytes.slice(4 + length));
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
  for (let at = x - high; at < x + wide; at += 8) {
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
    context.font = `${13 * devicePixelRatio}px ${getComputedStyle(document.body).fontFamily}`;
    const words = String(number + 1), room = context.measureText(words).width;
    if (plot === plots[0] || !plots.length) if (left > taken) { context.fillText(words, Math.max(left, box.left) + 3, box.top + 14 * devicePixelRatio); taken = left + room + 4; }
  });
  context.restore();
}

function legend(name, channels) {
  const heading = document.createElement("h3");
  heading.append(name);
  channels.filter((one) => one.cylinder).forEach((one) => {
    const part = document.createElement("span");
    part.innerHTML = `<svg width="26" height="8" aria-hidden="true"><line class="c${one.cylinder > 8 ? 0 : one.cylinder}" x1="0" y1="4" x2="26" y2="4" stroke-width="2.5" stroke-dasharray="${(dashes[one.cylinder] || []).join(" ")}"/></svg>`;
    part.append(String(one.cylinder));
    heading.append(part);
  });
  return heading;
}

function draw(data) {
  rows.replaceChildren();
  plots = [];
  const groups = Map.groupBy ? Map.groupBy(data.channels.map((one, at) => ({ ...one, at })), (one) => one.panel)
    : data.channels.reduce((all, one, at) => all.set(one.panel, [...(all.get(one.panel) || []), { ...one, at }]), new Map());
  const width = rows.clientWidth;
  const last = [...groups.keys()].at(-1);
  groups.forEach((channels, name) => {
    const own = document.createElement("div");
    rows.append(legend(`${name}, ${channels[0].unit}`, channels), own);
    const axis = { stroke: token("ink2"), grid: { stroke: token("line"), width: 1 }, ticks: { stroke: token("line") }, font: `13px ${getComputedStyle(document.body).fontFamily}` };
    plots.push(new uPlot({
      width, height: (channels.length > 1 ? 190 : 100) + (name === last ? 24 : 0), legend: { show: false }, pxAlign: 0,
      cursor: { sync: { key: "flight" }, drag: { x: true, y: false, setScale: false } },
      scales: { x: { time: false, range: () => shown }, y: { range: (_, low, high) => high > low ? [low - (high - low) * 0.04, high + (high - low) * 0.04] : [low - 1, high + 1] } },
      axes: [
        { ...axis, show: true, incrs: [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200], space: 70, size: name === last ? 36 : 8, values: name === last ? (_, all) => all.map((at) => clock(at)) : () => [] },
        { ...axis, size: 58, space: 28 },
      ],
      series: [{}, ...channels.map((one) => ({
        stroke: token(one.cylinder && !black ? (one.cylinder === 7 || one.cylinder > 8 ? "ink" : `c${one.cylinder}`) : "ink"),
        width: 1.5, dash: one.cylinder && (black || one.cylinder > 1) ? dashes[one.cylinder] : undefined, points: { show: false }, spanGaps: false,
      }))],
      hooks: { drawClear: [shade], setSelect: [chosen], setCursor: [read] },
    }, [data.time, ...channels.map((one) => data.traces[one.at])], own));
    plots.at(-1).channels = channels;
  });
}

function chosen(plot) {
  if (plot.select.width < 4) return;
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
  const words = values.filter(([, value]) => value != null).map(([channel, value]) => `${channel.name} ${value.toFixed(channel.unit_key === "gph" || channel.unit_key === "inhg" ? 1 : 0)} ${channel.unit}`);
  place.dataset.read = `${clock(plot.data[0][at])}: ${words.join(", ")}`;
  told.textContent = place.dataset.read;
}

function look(from, to) {
  const wide = Math.min(Math.max(to - from, 10), whole[1]);
  const start = Math.min(Math.max(from, 0), whole[1] - wide);
  shown = [start, start + wide];
  plots.forEach((plot) => plot.redraw(false, true));
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
    plots.forEach((plot) => plot.setData([data.time, ...plot.channels.map((one) => data.traces[one.at])]));
    told.textContent = `From ${clock(shown[0])} to ${clock(shown[1])}.`;
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
const keys = { "+": "in", "=": "in", "-": "out", "−": "out", ArrowLeft: "left", ArrowRight: "right", 0: "all" };

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
