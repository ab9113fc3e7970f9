// The sentences of the scripts stand in the page, in its language; what is in braces is filled in here.
const words = JSON.parse(document.querySelector("[data-words]").textContent);
const language = document.documentElement.lang;

export function said(name, values = {}) {
  return words[name].replace(/\{(\w+)\}/g, (_, key) => values[key]);
}

export function decimal(value, decimals) {
  return value.toLocaleString(language, { minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: false });
}
