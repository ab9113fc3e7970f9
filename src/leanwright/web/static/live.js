// A form whose answer moves while it is filled in: each change asks for the same page again and takes its marked parts over.
import { said } from "/static/words.js";

const heard = document.createElement("p");
heard.className = "hidden";
heard.setAttribute("role", "status");
document.querySelector("main").append(heard);
let asked = 0;

function lost(words) {
  document.getElementById("heard").textContent = words;
}

async function renew(form) {
  const mine = ++asked;
  const address = `${form.getAttribute("action")}?${new URLSearchParams(new FormData(form))}`;
  let words;
  document.getElementById("heard").textContent = "";
  try {
    const answer = await fetch(address);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (mine !== asked) return;
    const parts = document.querySelectorAll("[data-live-part]");
    const fresh = [...parts].map((one) => page.getElementById(one.id));
    words = page.querySelector("h1").textContent;
    if (answer.ok && fresh.every(Boolean)) {
      parts.forEach((one, number) => one.replaceWith(document.adoptNode(fresh[number])));
      if (form.dataset.live !== "here") document.title = page.title;
      if (form.dataset.live !== "here") history.replaceState(null, "", address);
      words = [words, ...[...document.querySelectorAll(".field-error[data-live-part]")].map((one) => one.textContent)].filter(Boolean).join(" ");
      heard.textContent = words;
    } else lost(page.querySelector("main").textContent.trim().replace(/\s+/g, " "));
  } catch {
    lost(said("nothing-heard"));
  }
}

document.querySelectorAll("form[data-live]").forEach((form) => {
  form.addEventListener("change", () => renew(form));
  form.addEventListener("submit", (event) => { event.preventDefault(); renew(form); });
});
