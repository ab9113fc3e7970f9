// Dropping files anywhere, with progress and a way to stop. Without scripts the same form sends them.
import { decimal, said } from "/static/words.js";

const form = document.querySelector("[data-drop]");
const heard = document.getElementById("heard");

function say(words) {
  heard.textContent = words;
}

// What is wrong with a drop stands beside it, and is read out.
function wrong(words) {
  form.querySelector("[data-drop-wrong]").textContent = words;
  heard.classList.add("hidden");
  say(words);
}

function megabytes(bytes) {
  return decimal(bytes / 1048576, 1);
}

function send(files) {
  const most = Number(form.dataset.most);
  const large = files.find((file) => file.size > most);
  if (large) {
    form.reset();
    wrong(said("too-large", { name: large.name, size: megabytes(large.size), most: megabytes(most) }));
    return;
  }
  const state = form.querySelector("[data-drop-state]");
  const bar = form.querySelector("[data-drop-progress]");
  const progress = form.querySelector("[data-drop-said]");
  const body = new FormData();
  const number = [...crypto.getRandomValues(new Uint8Array(8))].map((one) => one.toString(16).padStart(2, "0")).join("");
  body.append("token", document.body.dataset.token);
  body.append("number", number);
  for (const file of files) body.append("files", file, file.name);
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("accept", "application/json");
  request.setRequestHeader("x-token", document.body.dataset.token);
  request.responseType = "json";
  state.hidden = false;
  form.querySelector("[data-drop-wrong]").textContent = "";
  say("");
  progress.textContent = files.length > 1 ? said("sending", { files: files.length }) : said("sending-one");
  const began = performance.now();
  let reading;
  request.upload.onprogress = (event) => {
    bar.value = event.total ? event.loaded / event.total : 0;
    progress.textContent = said("sent", { done: megabytes(event.loaded), whole: megabytes(event.total) });
  };
  request.upload.onload = () => {
    reading = setInterval(() => {
      progress.textContent = said("reading-for", { seconds: Math.round((performance.now() - began) / 1000) });
    }, 1000);
    progress.textContent = said("reading");
  };
  const over = (words) => {
    clearInterval(reading);
    state.hidden = true;
    form.reset();
    if (words) wrong(words);
  };
  request.onload = () => {
    const answer = request.response || {};
    over(answer.go ? "" : answer.said || said("not-taken"));
    if (answer.go) location.assign(answer.go);
  };
  request.onerror = () => over(said("not-sent"));
  request.onabort = () => over(said("stopped"));
  form.querySelector("[data-drop-stop]").onclick = async () => {
    const sent = reading !== undefined;
    request.abort();
    if (!sent) return;
    // It is being read already: what is read so far stays, what is not is not kept. The page of the import says which.
    const told = await fetch(`/imports/${number}/stop`, { method: "POST", headers: { accept: "application/json", "x-token": document.body.dataset.token, "content-type": "application/x-www-form-urlencoded" }, body: "" });
    const answer = await told.json().catch(() => ({}));
    if (answer.go) location.assign(answer.go);
    else wrong(answer.said || said("stopped"));
  };
  request.send(body);
}

// Which files were picked stands beside the label that picks them.
document.querySelectorAll("[data-pick]").forEach((one) => {
  const tell = () => { document.getElementById(`${one.id}-picked`).textContent = [...one.files].map((file) => file.name).join(", "); };
  one.addEventListener("change", tell);
  one.form.addEventListener("reset", () => setTimeout(tell));
  tell();
});

document.querySelectorAll("[data-print]").forEach((one) => one.addEventListener("click", () => print()));

if (form) {
  form.addEventListener("submit", (event) => {
    const files = form.querySelector("input[type=file]").files;
    if (!files.length) return;
    event.preventDefault();
    send([...files]);
  });
  addEventListener("dragover", (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    document.body.classList.add("over");
  });
  addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) document.body.classList.remove("over");
  });
  addEventListener("drop", (event) => {
    document.body.classList.remove("over");
    const files = [...event.dataTransfer.files];
    if (!files.length) return;
    event.preventDefault();
    send(files);
  });
}

// A session may end while something is being typed. Whoever comes back to the page, or types after a rest, is told before anything is
// sent; once another session was opened, the form is sent with its token, and nothing has to be typed again.
const REST = 300000;
let ended = false;
let busy = Date.now();

async function look() {
  try {
    const answer = await fetch("/static/style.css", { method: "HEAD" });
    if (answer.ok && ended) {
      const page = await (await fetch("/settings")).text();
      const token = page.match(/data-token="([^"]+)"/)[1];
      document.body.dataset.token = token;
      document.querySelectorAll("input[name=token]").forEach((one) => { one.value = token; });
    }
    ended = !answer.ok;
  } catch {
    ended = true;
  }
  document.querySelectorAll("[data-lost]").forEach((one) => one.remove());
}

addEventListener("focus", look);
addEventListener("input", () => {
  if (Date.now() - busy > REST) look();
  busy = Date.now();
});
document.addEventListener("submit", async (event) => {
  const sent = event.target;
  if (!ended || sent.method !== "post" || sent === form) return;
  event.preventDefault();
  const { submitter } = event;
  await look();
  if (!ended) {
    sent.requestSubmit(submitter);
    return;
  }
  const told = document.createElement("p");
  told.className = "field-error";
  told.dataset.lost = "";
  told.setAttribute("role", "alert");
  told.textContent = said("session-ended");
  sent.append(told);
});

// Evidence is folded. A number that leads to it unfolds it; Escape folds it again, and leads back to the number.
let opener;

function unfold() {
  const found = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const folds = found?.closest("details.evidence");
  if (!folds) return;
  folds.open = true;
  folds.querySelector("summary").focus({ preventScroll: true });
  found.scrollIntoView();
}

document.addEventListener("click", (event) => {
  const link = event.target.closest('a[href^="#"]');
  if (!link) return;
  opener = link;
  if (link.hash === location.hash) unfold();
});
addEventListener("hashchange", unfold);
unfold();
document.addEventListener("keydown", (event) => {
  const folds = event.key === "Escape" && document.activeElement.closest("details.evidence[open]");
  if (!folds) return;
  folds.open = false;
  (opener?.isConnected ? opener : folds.querySelector("summary")).focus();
  opener = undefined;
});
