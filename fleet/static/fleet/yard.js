// The yard's list: Enter goes down, a pasted column fills downwards, the draft stays as it stands.
"use strict";

(() => {
  const form = document.querySelector("form[data-yard]");
  if (!form) return;
  const boxes = [...form.querySelectorAll("[data-yard-hours]")];
  const said = form.querySelector("[data-yard-said]");
  const button = form.querySelector("[data-yard-button]");
  const read = form.querySelector("[name=read]");
  const key = (text) => text.normalize("NFKC").toLowerCase().replace(/\s+/g, "");

  const tell = () => {
    const count = boxes.filter((box) => box.value.trim()).length;
    button.textContent = count ? `Save ${count} ${count === 1 ? "reading" : "readings"}` : "Save the readings";
  };

  // A draft of last week must not bring last week's day with it.
  if (!form.querySelector("[aria-invalid=true]")) read.value = read.defaultValue;

  form.addEventListener("keydown", (event) => {
    const at = boxes.indexOf(event.target);
    if (at < 0 || event.isComposing) return;
    const step = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const next = boxes[at + step];
    if (next) { next.focus(); next.select(); } else if (step > 0) form.querySelector("[type=submit]").focus();
  });

  form.addEventListener("paste", (event) => {
    const at = boxes.indexOf(event.target);
    const text = event.clipboardData?.getData("text") || "";
    const lines = text.replace(/\r\n?/g, "\n").replace(/\n$/, "").split("\n");
    if (at < 0 || (lines.length < 2 && !text.includes("\t"))) return;
    event.preventDefault();
    const left = text.includes("\t") ? fillByNumber(lines) : fillDown(lines, at);
    const filled = lines.filter((line) => line.trim()).length - left.length;
    const rest = left.length ? ` Left over, because no box fits: ${left.join("; ")}.` : "";
    said.textContent = `${filled} filled.${rest}`;
    form.dispatchEvent(new Event("input", { bubbles: true }));
    tell();
  });

  const fillDown = (lines, from) => {
    const left = [];
    lines.forEach((line, n) => {
      const box = boxes[from + n];
      if (box) box.value = line.trim() || box.value;
      else if (line.trim()) left.push(line.trim());
    });
    return left;
  };

  const fillByNumber = (lines) => {
    const left = [];
    for (const line of lines.filter((one) => one.trim())) {
      const [number, hours = ""] = line.split("\t");
      const fits = boxes.filter((box) => key(box.closest("tr").dataset.number) === key(number));
      if (fits.length === 1 && hours.trim()) fits[0].value = hours.trim();
      else left.push(line.replace(/\t/g, " ").trim());
    }
    return left;
  };

  form.addEventListener("input", tell);
  tell();
  const result = document.querySelector("[data-yard-result]");
  if (result) {
    // What stands in the boxes now is the draft: what was recorded is no part of it any more.
    form.dispatchEvent(new Event("input", { bubbles: true }));
    (form.querySelector("[aria-invalid=true]") || result).focus();
  }
})();
