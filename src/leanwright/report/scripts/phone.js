// The worksheet on a phone. It decides nothing: every answer stands in the tables that came with the file, and what is
// entered is kept in this browser after each step, flushed to the disk before the next one is shown.
"use strict";
const sheet = JSON.parse(document.getElementById("sheet").textContent);
const words = sheet.words;
const screens = new Map(sheet.screens.map((one) => [one.id, one]));
const find = (selector, within = document) => within.querySelector(selector);
const all = (selector, within = document) => [...within.querySelectorAll(selector)];

let kept = { revision: 0, saved: "", name: sheet.name, begun: false, resting: sheet.resting, done: [], drafts: {}, later: [] };
let shelf = null;
let queue = Promise.resolve();
let wantsEnd = false;
let told = "";

// A table's own row; what a table inherits is none.
const at = (table, key) => (Object.prototype.hasOwnProperty.call(table, key) ? table[key] : undefined);

// What is kept.

function opened() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("leanwright", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("worksheets");
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

function read() {
  return new Promise((resolve, reject) => {
    const asked = shelf.transaction("worksheets").objectStore("worksheets").get(sheet.sheet);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

// Writes the next state, unless another window wrote one in between: then that one comes back.
function write(next) {
  return new Promise((resolve, reject) => {
    const change = shelf.transaction("worksheets", "readwrite", { durability: "strict" });
    const store = change.objectStore("worksheets");
    let newer = null;
    const asked = store.get(sheet.sheet);
    asked.onsuccess = () => {
      if (asked.result && asked.result.revision !== kept.revision) newer = asked.result;
      else store.put(next, sheet.sheet);
    };
    change.oncomplete = () => resolve(newer);
    change.onerror = () => reject(change.error);
    change.onabort = () => reject(change.error);
  });
}

async function changed(change) {
  const next = { ...kept, ...change(kept), revision: kept.revision + 1, saved: new Date().toISOString() };
  const newer = shelf ? await write(next) : null;
  kept = newer || next;
  return !newer;
}

// One change after the other. A step is not written over what another window did; what is being typed is put on top.
function save(change, onTop = false) {
  const did = queue.then(async () => {
    const wrote = await changed(change);
    return wrote || (onTop && changed(change));
  });
  queue = did.catch(keepsNothing);
  return did.catch(() => true);
}

function keepsNothing() {
  shelf = null;
  find("#keeps-nothing").hidden = false;
  find("#saved").hidden = true;
}

// What the tables answer.

const answers = {
  always: (check) => check.no,
  pattern: (check, value) => (new RegExp(check.pattern, "su").test(value) ? null : check.no),
  listed: (check, value) => {
    const row = at(check.rows, value);
    return row === undefined ? check.other : row;
  },
  days: (check, value) => (today() > (at(check.until, value) || "") ? at(check.no, value) : null),
  bands: (check, value, typed) => {
    const amount = Number(value) * (check.unit ? at(check.factors, typed[check.unit]) ?? NaN : 1) * (check.joint ? stretch(typed) : 1);
    const table = check.extended && extended(typed) ? check.extended : check.bands;
    const bands = check.by ? at(table, typed[check.by]) || [] : table;
    const found = bands.find((one) => (one.from === null || amount >= one.from) && (one.to === null || amount <= one.to));
    return found ? found.no : null;
  },
  turns: (check, value, typed) => {
    const turning = Number(value) > 0 && Number(typed.extension) >= 0 && stretch(typed) > 0;
    return extended(typed) && !turning ? check.no : null;
  },
  places: (check, value, typed, screen, done) => {
    const row = at(check.rows, value) || check.rows[check.any];
    const like = alike(value, screen, done);
    const serial = typed[check.serial] || "";
    const same = like.some(([, other]) => serial && other === serial);
    const by = serial ? at(row, serial) || row[check.anySerial] : row[""];
    const counts = by[Math.min(same ? 1 : 0, by.length - 1)];
    return counts[Math.min(like.length, counts.length - 1)];
  },
};

// Where nozzles of a marking are, but for this place: in words, with their serial numbers.
function alike(marking, screen, done) {
  const places = new Map(Object.entries(sheet.inPlace));
  done.forEach((one) => {
    const where = screens.get(one.id);
    if (where && where.takes) places.delete(String(where.cylinder));
    if (where && where.puts) places.set(String(where.cylinder), [one.body.marking, one.body.serial || null]);
  });
  places.delete(String(screen.cylinder));
  const here = [...places].filter(([, [other]]) => other === marking).map(([cylinder, [, serial]]) => [cylinder, serial]);
  return [...here, ...(at(sheet.elsewhere, marking) || [])];
}

// Whether an extension on the wrench was typed, and how many times the joint gets what the wrench reads: Te = Tw (A + B cos a) / A, the
// formula of engine/torque.py.
function extended(typed) {
  return Boolean(typed.lever || typed.extension || typed.angle_deg);
}

function stretch(typed) {
  if (!extended(typed)) return 1;
  const lever = Number(typed.lever);
  return (lever + Number(typed.extension) * Math.cos((Number(typed.angle_deg || 0) * Math.PI) / 180)) / lever;
}

function asked(checks, typed, screen, done) {
  for (const check of checks) {
    if (check.extended === true && !extended(typed)) continue;
    const no = answers[check.how](check, typed[check.field] || "", typed, screen, done);
    if (no !== null && no !== undefined) return { no, field: check.field };
  }
  return null;
}

// What is answered to a step: the refusal with its sentences filled in, or nothing.
function verdict(id, typed, done = kept.done) {
  const screen = screens.get(id);
  const found = asked(screen.checks, typed, screen, done);
  if (!found) return null;
  const { code, reason, nextStep, allowed } = sheet.refusals[found.no];
  const values = filling(typed, screen, done);
  return { code, reason: filled(reason, values), nextStep: filled(nextStep, values), allowed, field: found.field };
}

// What sentences leave open: what was typed, the torque in the unit of the tables, and where the like nozzle is.
function filling(typed, screen, done) {
  const amount = Number(typed.reading) * (at(screen.factors, typed.unit) ?? NaN) * stretch(typed);
  const [there = ""] = alike(typed.marking, screen, done)[0] || [];
  return { ...typed, angle_deg: typed.angle_deg || "0", joint: String(Number(amount.toPrecision(4))), there };
}

function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => at(values, name) ?? whole);
}

// Which step comes next.

function entered() {
  return new Set(kept.done.map((one) => one.id));
}

function next() {
  const there = entered();
  const open = new Set(kept.done.filter((one) => one.open).map((one) => one.id));
  kept.done.filter((one) => !one.open).forEach((one) => open.delete(one.id));
  const ready = sheet.screens.filter((one) => (!there.has(one.id) || open.has(one.id)) && one.after.every((id) => there.has(id) || !screens.has(id)));
  return ready.find((one) => !there.has(one.id) && !kept.later.includes(one.id)) || ready[0] || null;
}

// The last steps that were done, in this file or before it left the book.
function toTouch() {
  const found = new Map(sheet.doneBefore.map((one) => [one.id, one]));
  kept.done.map((one) => screens.get(one.id)).filter(Boolean).forEach((one) => {
    if (one.moves) found.delete(one.id);
    found.set(one.id, one);
  });
  return [...found.values()].slice(-sheet.touchedAgain);
}

// What is shown.

function show() {
  const screen = next();
  const id = !kept.begun ? "about" : kept.resting ? "rest" : wantsEnd || !screen ? "end" : screen.id;
  all("main > section").forEach((one) => { one.hidden = one.dataset.screen !== id; });
  const section = find("main > section:not([hidden])");
  find("#tools").hidden = !screens.has(id);
  find("#saved").hidden = !shelf || !kept.saved;
  find("#saved").textContent = filled(words.saved, { time: time(kept.saved) });
  find("#told").textContent = told;
  find("#told").hidden = !told;
  all("[role=alert]", section).forEach((one) => { one.hidden = true; });
  if (screens.has(id)) showStep(section, id);
  if (id === "rest") showRest(section);
  if (id === "end") showEnd(section);
  const heading = find("h1", section);
  document.title = `${heading.textContent} · ${sheet.title}`;
  heading.focus({ preventScroll: true });
  scrollTo(0, 0);
}

function showStep(section, id) {
  const done = new Set(kept.done.filter((one) => screens.has(one.id)).map((one) => one.id)).size;
  find(".count", section).textContent = filled(words.step, { done: Math.min(done + 1, sheet.screens.length), whole: sheet.screens.length });
  const bar = find("progress", section);
  bar.value = done;
  const draft = kept.drafts[id] || {};
  fields(section).forEach((one) => { one.value = draft[one.name] ?? (one.name === "by" ? "" : one.value); });
  const last = kept.done[kept.done.length - 1];
  all("details", section).forEach((one) => { one.open = extended(draft); });
  showWrench(section, screens.get(id));
  find("#back").hidden = !(last && screens.has(last.id));
}

function showRest(section) {
  const list = find("ul", section);
  list.replaceChildren(...toTouch().map((one) => {
    const row = document.createElement("li");
    const label = document.createElement("label");
    const box = document.createElement("input");
    box.type = "checkbox";
    box.value = one.id;
    label.append(box, ` ${one.words}`);
    row.append(label);
    return row;
  }));
  find("[name=by]", section).value = kept.name;
}

function showEnd(section) {
  const there = entered();
  const left = sheet.screens.filter((one) => !there.has(one.id)).length;
  find("h1", section).textContent = left ? filled(words.left, { open: left }) : words.allDone;
  find("textarea", section).value = result();
  find("#on", section).hidden = !next();
}

function result() {
  const steps = kept.done.map(({ key, kind, body, by, time: at, date }) => ({ key, kind, body, by, time: at, date }));
  return JSON.stringify({ format: "leanwright/worksheet-result/1", sheet: sheet.sheet, ledger: sheet.ledger, job: sheet.job, left: sheet.left, steps }, null, 1);
}

function refuse(section, refusal) {
  const box = find("[role=alert]", section);
  find("p", box).textContent = `${refusal.reason.replace(/\.$/, "")}.`;
  find("p + p", box).textContent = refusal.nextStep;
  const wanted = refusal.allowed ? refusal.allowed.join(",") : "";
  all("[data-allowed]", box).forEach((one) => { one.hidden = one.dataset.allowed !== wanted; });
  box.dataset.code = refusal.code;
  box.hidden = false;
  const field = find(`[name="${refusal.field}"]`, section);
  all("[aria-invalid]", section).forEach((one) => { one.removeAttribute("aria-invalid"); });
  if (field) field.setAttribute("aria-invalid", "true");
  box.scrollIntoView({ block: "center" });
}

// What is done.

function fields(section) {
  return all("input, select, textarea", section).filter((one) => one.name);
}

function typedIn(section) {
  const typed = {};
  fields(section).forEach((one) => {
    const value = one.value.trim();
    typed[one.name] = one.inputMode === "decimal" ? value.replace(",", ".") : value;
  });
  return typed;
}

function stamp(kind, body, by) {
  const now = new Date();
  const key = [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
  return { key, kind, body, by, time: now.toISOString(), date: today() };
}

function today() {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((one) => String(one).padStart(2, "0")).join("-");
}

function time(at) {
  return at ? new Date(at).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hour12: false }) : "";
}

async function enter(section) {
  const id = section.dataset.screen;
  const screen = screens.get(id);
  const typed = typedIn(section);
  const refusal = verdict(id, typed);
  if (refusal) {
    refuse(section, refusal);
    return;
  }
  const open = asked(screen.advice, typed, screen, kept.done) !== null;
  const given = Object.fromEntries(Object.entries(typed).filter(([name, value]) => value && name !== "by"));
  const body = { ...screen.body, ...(screen.moves ? withExtension(given) : given), ...(screen.signs ? { by: typed.by } : {}) };
  const entry = { ...stamp(screen.kind, body, screen.signs ? typed.by : kept.name), id, open, typed };
  const wrote = await save((was) => ({
    done: [...was.done, entry],
    drafts: Object.fromEntries(Object.entries(was.drafts).filter(([name]) => name !== id)),
    later: was.later.filter((one) => one !== id),
  }));
  told = wrote ? (open ? filled(screen.stays, typed) : "") : words.otherWindow;
  show();
}

// A torque as the book takes it: what belongs to the extension stands together.
function withExtension({ lever, extension, length_unit: unit, angle_deg, ...given }) {
  if (!extended({ lever, extension, angle_deg })) return given;
  return { ...given, extension: { lever, extension, unit, ...(angle_deg ? { angle_deg } : {}) } };
}

// What the wrench has to read with the extension, so that the joint gets what the instructions say.
function showWrench(section, screen) {
  const place = find("[data-wrench]", section);
  if (!place) return;
  const typed = typedIn(section);
  const [low, high, own] = screen.wanted || [];
  const unit = typed.unit || own;
  const turns = screen.wanted && extended(typed) && typed.lever && typed.extension && stretch(typed) > 0 && Number.isFinite(stretch(typed));
  place.hidden = !turns;
  if (!turns) return;
  const [from, to] = [low, high].map((one) => String(Number((one / screen.factors[unit] / stretch(typed)).toPrecision(4))).replace(".", words.decimal));
  place.textContent = filled(words.wrenchReads, { low: from, high: to, unit });
}

const doors = {
  begin: (section) => {
    const name = find("[name=by]", section).value.trim();
    if (!name) return refuse(section, { code: "missing", reason: words.missing, nextStep: "", field: "by" });
    return save(() => ({ name, begun: true })).then(show);
  },
  enter,
  back: () => save((was) => {
    const last = was.done[was.done.length - 1];
    return { done: was.done.slice(0, -1), drafts: { ...was.drafts, [last.id]: last.typed }, later: was.later.filter((one) => one !== last.id) };
  }).then((wrote) => { told = wrote ? "" : words.otherWindow; show(); }),
  later: () => {
    const { id } = next();
    return save((was) => ({ later: [...was.later.filter((one) => one !== id), id] })).then(show);
  },
  interrupt: () => {
    const because = find("#because").value.trim();
    if (!because) return find("#because").focus();
    return save((was) => ({ resting: true, done: [...was.done, stamp("pause", { job: sheet.job, because }, was.name)] })).then(() => { find("#because").value = ""; show(); });
  },
  resume: (section) => {
    const name = find("[name=by]", section).value.trim();
    const boxes = all("input[type=checkbox]", section);
    if (!name) return refuse(section, { code: "missing", reason: words.missing, nextStep: "", field: "by" });
    if (boxes.some((one) => !one.checked)) return refuse(section, { code: "not-touched", reason: words.notTouched, nextStep: "", field: "" });
    const touched = toTouch().map(({ step, cylinder }) => (cylinder ? { step, cylinder } : { step }));
    return save((was) => ({ resting: false, name, done: [...was.done, stamp("resume", { job: sheet.job, touched }, name)] })).then(show);
  },
  end: () => { wantsEnd = true; show(); },
  on: () => { wantsEnd = false; show(); },
  keep: () => {
    const way = document.createElement("a");
    way.href = URL.createObjectURL(new Blob([result()], { type: "application/json" }));
    way.download = sheet.file;
    way.click();
    setTimeout(() => URL.revokeObjectURL(way.href), 60000);
  },
  copy: (section) => {
    find("textarea", section).select();
    document.execCommand("copy");
    find("#copied").hidden = false;
  },
};

document.addEventListener("click", (event) => {
  const door = event.target.closest("[data-do]");
  if (door) doors[door.dataset.do](find("main > section:not([hidden])"));
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
  const door = find("main > section:not([hidden]) [data-do]");
  if (door) door.click();
});
document.addEventListener("input", (event) => {
  const section = event.target.closest("main > section");
  if (!section || !screens.has(section.dataset.screen)) return;
  showWrench(section, screens.get(section.dataset.screen));
  const typed = Object.fromEntries(fields(section).map((one) => [one.name, one.value]));
  save((was) => ({ drafts: { ...was.drafts, [section.dataset.screen]: typed } }), true);
});

async function start() {
  try {
    shelf = await opened();
    kept = (await read()) || kept;
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist();
  } catch {
    keepsNothing();
  }
  find("#works").hidden = false;
  show();
}

// Another window of this file: what it did is shown as soon as this one is looked at again.
document.addEventListener("visibilitychange", () => {
  if (document.hidden || !shelf) return;
  queue = queue.then(async () => {
    const there = await read();
    if (there && there.revision !== kept.revision) {
      kept = there;
      show();
    }
  }).catch(keepsNothing);
});
start();
