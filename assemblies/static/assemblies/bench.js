// A piece at the bench without a sure connection. What is typed is kept on this device, by person
// and piece, until the server has saved it; it is judged as it is typed, and sent again by itself.
// Sent twice it is saved once: the same once more changes nothing.
"use strict";

(() => {
  const form = document.querySelector("form[data-bench]");
  if (!form) return;
  const key = `layline-bench:${form.dataset.person}:${form.dataset.build}`;
  const find = (name) => document.querySelector(`[data-bench-${name}]`);
  const again = 8000;
  const pause = 600;
  const kept = (box) => box.name && !["hidden", "file", "submit", "button"].includes(box.type);

  const read = () => {
    try { return JSON.parse(localStorage.getItem(key)); } catch { return null; }
  };
  const drop = () => { try { localStorage.removeItem(key); } catch { /* no store, no draft */ } };
  const values = () => {
    const found = {};
    for (const box of form.elements) {
      if (!kept(box)) continue;
      if (box.type === "checkbox") found[box.name] = box.checked;
      else if (box.type === "radio") { if (box.checked) found[box.name] = box.value; }
      else found[box.name] = box.value;
    }
    return found;
  };
  const keep = (waits = false) => {
    try {
      localStorage.setItem(key, JSON.stringify({ seen: form.elements.seen.value, waits, values: values() }));
      return true;
    } catch { return false; }
  };
  const fill = (typed) => {
    for (const box of form.elements) {
      if (!kept(box) || !(box.name in typed)) continue;
      if (box.type === "checkbox") box.checked = typed[box.name] === true;
      else if (box.type === "radio") box.checked = typed[box.name] === box.value;
      else box.value = typed[box.name];
    }
  };

  const tell = (words, { other = false } = {}) => {
    find("kept").hidden = !words;
    find("kept-words").textContent = words || "";
    find("other").hidden = !other;
  };
  const say = (said) => {
    for (const [name, html] of Object.entries(said || {})) {
      const place = form.querySelector(`[data-said="${name}"]`);
      if (place && place.innerHTML.trim() !== html.trim()) place.innerHTML = html;
    }
  };
  const post = (url, data) => fetch(url, {
    method: "POST", redirect: "manual", credentials: "same-origin", body: data,
    headers: { Accept: "application/json" },
  });

  // Judged as it is typed; without a connection the last answer stands.
  let waiting = 0;
  const judge = async () => {
    const data = new FormData(form);
    data.delete("photos");
    try {
      const response = await post(form.dataset.judge, data);
      if (!response.ok) return;
      const { said, dial } = await response.json();
      say(said);
      for (const [name, words] of Object.entries(dial)) {
        const place = form.querySelector(`[data-dial="${name}"]`);
        if (place) place.textContent = words;
      }
    } catch { /* no connection: what is typed is kept */ }
  };
  const typed = () => {
    const there = keep();
    tell(there ? "" : "This device keeps nothing: save before you leave this page.");
    clearTimeout(waiting);
    waiting = setTimeout(judge, pause);
  };

  let sending = false;
  const save = async (then) => {
    if (sending) return false;
    sending = true;
    clearTimeout(waiting);
    const data = new FormData(form);
    if (then) data.set("then", then);
    try {
      return await answered(await post(location.pathname, data), then);
    } catch {
      const files = form.elements.photos?.files.length ? " Photos are not kept: add them again if you leave this page." : "";
      tell(keep(true)
        ? `Not saved yet: there is no connection. It is kept on this device and goes by itself.${files}`
        : "Not saved: there is no connection, and this device keeps nothing. Leave the page open.");
      setTimeout(() => { if (read()?.waits) save(); }, again);
      return false;
    } finally { sending = false; }
  };
  const answered = async (response, then) => {
    if (response.status === 422) {
      const { wrong, said } = await response.json();
      say(said);
      const sentences = Object.values(wrong).flat();
      keep();
      tell(`Not saved: ${sentences.join(" ")}`);
      find("kept").scrollIntoView({ block: "center" });
      return false;
    }
    if (!response.ok) {
      keep(true);
      tell(response.status >= 500
        ? "The server could not take it just now. It is kept on this device: save again in a while."
        : "The server does not take it from this log-in. It is kept on this device: log in again and open this piece.");
      return false;
    }
    const { version, said, left } = await response.json();
    drop();
    for (const box of document.querySelectorAll("[name=seen]")) box.value = version;
    form.elements.photos_id.value = drawId();
    if (form.elements.photos) form.elements.photos.value = "";
    say(said);
    find("left").innerHTML = left;
    tell(`Saved at ${new Date().toTimeString().slice(0, 5)}.`);
    if (then === "next" && form.dataset.next) location.assign(form.dataset.next);
    return true;
  };
  const drawId = () => Array.from(crypto.getRandomValues(new Uint8Array(10)),
    (byte) => byte.toString(16).padStart(2, "0")).join("");

  form.addEventListener("change", ({ target }) => {
    // A skive that is none has no length.
    if (!target.name.endsWith("_skive") || target.value === "length") return;
    const length = form.elements[`${target.name}_mm`];
    if (length) length.value = "";
  });
  form.addEventListener("input", typed);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    save(event.submitter?.value);
  });
  addEventListener("online", () => { if (read()?.waits) save(); });
  for (const deed of document.querySelectorAll("form[data-bench-deed]")) {
    deed.addEventListener("submit", async (event) => {
      if (!read()) return;
      event.preventDefault();
      if (await save()) deed.requestSubmit();
    });
  }

  // What was typed here before and never saved comes back; over another's saving only if asked.
  const draft = read();
  if (draft && form.querySelector("[aria-invalid=true]")) keep();
  else if (draft && draft.seen === form.elements.seen.value) {
    fill(draft.values);
    tell("What you typed before is here again. It is not saved yet.");
    judge();
    if (draft.waits) save();
  } else if (draft) {
    tell("This piece was saved meanwhile, by you elsewhere or by someone else. What you had typed here is still kept: look at what stands now.", { other: true });
  }
  find("put").addEventListener("click", () => {
    fill(draft.values);
    keep();
    tell("Yours is in the boxes again. Look through them, then save.");
    judge();
  });
  find("drop").addEventListener("click", () => { drop(); tell(""); });
})();
