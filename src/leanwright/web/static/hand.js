// What is being typed at a step is kept in this browser until it is entered: a phone that sleeps, or a page that is closed, loses nothing.
const form = document.querySelector(".hand form[data-keep]");
const place = form && `leanwright ${form.dataset.keep}`;

function fields() {
  return [...form.elements].filter((one) => one.name && !["hidden", "submit"].includes(one.type));
}

// Whoever works at this page types their name once; closing the page forgets it. Another person's look asks for another name.
const by = document.querySelector(".hand [name=by]:not([data-another])");

if (by) {
  try {
    by.value ||= sessionStorage.getItem("leanwright by") || "";
    by.form.addEventListener("submit", () => sessionStorage.setItem("leanwright by", by.value));
  } catch {
    // A browser that keeps nothing: the name is typed again.
  }
}

if (form) {
  try {
    const kept = JSON.parse(localStorage.getItem(place) || "{}");
    fields().forEach((one) => {
      if (!(one.name in kept) || one.value) return;
      one.value = kept[one.name];
    });
    form.addEventListener("input", () => {
      const typed = Object.fromEntries(fields().map((one) => [one.name, one.value]));
      localStorage.setItem(place, JSON.stringify(typed));
    });
    // Steps that are behind leave nothing: only the step that is shown is kept.
    Object.keys(localStorage).filter((key) => key.startsWith("leanwright ") && key !== place).forEach((key) => localStorage.removeItem(key));
  } catch {
    // A browser that keeps nothing for this page: the form works as it is.
  }
}
