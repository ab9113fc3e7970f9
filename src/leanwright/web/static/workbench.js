// Dropping files anywhere, with progress and a way to stop. Without scripts the same form sends them.
const form = document.querySelector("[data-drop]");
const heard = document.getElementById("heard");

function say(words) {
  heard.textContent = words;
}

function size(bytes) {
  return `${(bytes / 1048576).toFixed(1)} MB`;
}

function send(files) {
  const state = form.querySelector("[data-drop-state]");
  const bar = form.querySelector("[data-drop-progress]");
  const said = form.querySelector("[data-drop-said]");
  const body = new FormData();
  body.append("token", document.body.dataset.token);
  for (const file of files) body.append("files", file, file.name);
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("accept", "application/json");
  request.setRequestHeader("x-token", document.body.dataset.token);
  request.responseType = "json";
  state.hidden = false;
  say("");
  said.textContent = `Sending ${files.length} file${files.length > 1 ? "s" : ""}.`;
  const began = performance.now();
  let reading;
  request.upload.onprogress = (event) => {
    bar.value = event.total ? event.loaded / event.total : 0;
    said.textContent = `${size(event.loaded)} of ${size(event.total)} sent.`;
  };
  request.upload.onload = () => {
    reading = setInterval(() => {
      said.textContent = `Reading, ${Math.round((performance.now() - began) / 1000)} s.`;
    }, 1000);
    said.textContent = "Reading.";
  };
  const over = (words) => {
    clearInterval(reading);
    state.hidden = true;
    form.reset();
    if (words) say(words);
  };
  request.onload = () => {
    const answer = request.response || {};
    over(answer.go ? "" : answer.said || "This was not taken in. Drop it again.");
    if (answer.go) location.assign(answer.go);
  };
  request.onerror = () => over("It was not sent: the file changed or went away while it was sent, it is too big, or leanwright serve has stopped. Drop it again.");
  request.onabort = () => over("Stopped. Nothing of it was kept.");
  form.querySelector("[data-drop-stop]").onclick = () => request.abort();
  request.send(body);
}

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
