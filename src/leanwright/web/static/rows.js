// One more row in a table of a form: a copy of the last one, with the next number. Without scripts a saved form brings empty rows.
import { said } from "/static/words.js";

document.querySelectorAll("[data-rows]").forEach((table) => {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = said("another-row");
  button.addEventListener("click", () => {
    const last = [...table.querySelectorAll("[data-row]")].at(-1);
    const fresh = last.cloneNode(true);
    const place = fresh.querySelector("[name=place]").value.split("/");
    const number = Number(place[1]);
    fresh.querySelectorAll("[name=place]").forEach((one) => { one.value = one.value.replace(`/${number}/`, `/${number + 1}/`); });
    fresh.querySelectorAll("[id], [for], [aria-describedby]").forEach((one) => {
      for (const name of ["id", "for", "aria-describedby"]) if (one.hasAttribute(name)) one.setAttribute(name, one.getAttribute(name).replace(`-${number}-`, `-${number + 1}-`));
    });
    fresh.querySelectorAll("label .hidden").forEach((one) => { one.textContent = one.textContent.replace(/\d+$/, String(number + 2)); });
    fresh.querySelectorAll(".field-error").forEach((one) => one.remove());
    fresh.querySelectorAll("[name=value]").forEach((one) => { one.value = ""; one.removeAttribute("aria-invalid"); });
    last.after(fresh);
    fresh.querySelector("[name=value]").focus();
  });
  table.append(button);
});
