// Work that goes on in pieces: the form is sent again until nothing is left, with progress, and a way to stop.
const form = document.querySelector("[data-again]");

if (form && new URLSearchParams(location.search).get("go") === "on") {
  const stop = form.querySelector("[data-again-stop]");
  stop.hidden = false;
  const next = setTimeout(() => form.requestSubmit(), 300);
  stop.addEventListener("click", () => {
    clearTimeout(next);
    stop.hidden = true;
    history.replaceState(null, "", location.pathname + location.search.replace(/[?&]go=on/, ""));
  });
}
