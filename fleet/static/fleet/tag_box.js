// The tag box: a scanner types fast and ends with Enter; "/" brings a hand to it.
"use strict";

(() => {
  const box = document.querySelector("[data-tag-box]");
  if (!box) return;

  box.form.addEventListener("submit", (event) => {
    box.value = box.value.trim();
    if (box.value === "") {
      event.preventDefault();
      box.focus();
    }
  });

  document.addEventListener("keydown", (event) => {
    const typing = event.target.closest("input, select, textarea, [contenteditable]");
    if (event.key !== "/" || typing || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    box.focus();
    box.select();
  });
})();
