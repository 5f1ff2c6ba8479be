// A round without a sure connection. What is told goes into a queue kept on this device, by person
// and round, photos and all, and leaves it only when the server has answered for it. What is
// typed but not told yet is kept beside it. Told twice by one id, a thing is done once. The page
// itself is kept by a worker (rounds_worker.js); opened so, it says of when it is, and is drawn
// anew as soon as the server answers.
"use strict";

(() => {
  const live = document.getElementById("round-live");
  if (!live || !window.indexedDB) return;
  const owner = `${live.dataset.person}:${live.dataset.round}`;
  const again = 5000;
  const lookAgain = 15000;
  const patience = 30000;
  const longestSide = 1600;
  const find = (name) => document.querySelector(`[data-round-${name}]`);

  // ---- what is kept on this device
  let base = null;
  const opened = new Promise((resolve) => {
    const ask = indexedDB.open("layline-rounds", 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore("told", { keyPath: "key", autoIncrement: true }).createIndex("owner", "owner");
      ask.result.createObjectStore("typed", { keyPath: "owner" });
    };
    ask.onsuccess = () => { base = ask.result; resolve(); };
    ask.onerror = resolve;
  });
  const work = (store, mode, deed) => new Promise((resolve, reject) => {
    const turn = base.transaction(store, mode);
    const asked = deed(turn.objectStore(store));
    turn.oncomplete = () => resolve(asked?.result);
    turn.onerror = turn.onabort = () => reject(turn.error);
  });
  const keep = (entry) => work("told", "readwrite", (store) => store.put(entry));
  const drop = (key) => work("told", "readwrite", (store) => store.delete(key));
  const allTold = () => work("told", "readonly", (store) => store.index("owner").getAll(owner));
  const keepTyped = (entry) => work("typed", "readwrite", (store) => store.put({ ...entry, owner }));
  const dropTyped = () => work("typed", "readwrite", (store) => store.delete(owner));
  const typedBefore = () => work("typed", "readonly", (store) => store.get(owner));
  const drawId = () => Array.from(crypto.getRandomValues(new Uint8Array(10)),
    (byte) => byte.toString(16).padStart(2, "0")).join("");

  // ---- photos, made small before they wait
  const shrunk = async (file) => {
    try {
      const picture = await createImageBitmap(file);
      const scale = Math.min(1, longestSide / Math.max(picture.width, picture.height));
      const sheet = document.createElement("canvas");
      sheet.width = Math.round(picture.width * scale);
      sheet.height = Math.round(picture.height * scale);
      sheet.getContext("2d").drawImage(picture, 0, 0, sheet.width, sheet.height);
      const made = await new Promise((resolve) => sheet.toBlob(resolve, "image/jpeg", 0.85));
      return made || file;
    } catch { return file; }
  };
  const fieldsOf = async (form, pressed, small) => {
    const fields = [];
    for (const [name, value] of new FormData(form, pressed)) {
      if (name === "csrfmiddlewaretoken") continue;
      if (!(value instanceof File)) fields.push([name, value]);
      else if (value.size) fields.push([name, small ? await shrunk(value) : value]);
    }
    return [...fields, ...(form.carried || []).map((photo) => ["photos", photo])];
  };

  // ---- the form of one place, opened where it belongs
  let shown = null;
  const openForm = (kind, spot, fields = [], carried = []) => {
    const pattern = document.getElementById(`round-form-${kind}`);
    const place = document.getElementById(spot);
    if (!pattern || !place) return false;
    closeForm();
    shown = pattern.content.querySelector("form").cloneNode(true);
    shown.dataset.kind = kind;
    shown.dataset.spot = spot;
    shown.dataset.words ||= place.querySelector("form[data-tells], [data-words]")?.dataset.words || "";
    shown.carried = carried;
    fill(shown, fields);
    // The boxes of a new place, only where there is none yet; what is ticked shows its checklist.
    if (shown.elements.position?.value) shown.querySelector("[data-round-new]")?.remove();
    const ticked = () => {
      const list = shown?.querySelector("details");
      if (list && shown.querySelector("[name=answer][value=found]:checked, [name=what]:checked")) list.open = true;
    };
    shown.addEventListener("change", ticked);
    ticked();
    if (carried.length) shown.querySelector("[type=file]")?.closest(".field").append(line(`${carried.length} kept from before`, "p"));
    place.append(shown);
    place.querySelector(".round__answers")?.setAttribute("hidden", "");
    shown.querySelector("[data-round-close]")?.removeAttribute("hidden");
    shown.scrollIntoView({ block: "start" });
    shown.querySelector("input:not([type=hidden]), textarea, select")?.focus({ preventScroll: true });
    return true;
  };
  const closeForm = () => {
    const place = shown?.parentElement;
    shown?.remove();
    shown = null;
    place?.querySelector(".round__answers")?.removeAttribute("hidden");
  };
  const fill = (form, fields) => {
    for (const [name, value] of fields) {
      const boxes = [...form.elements].filter((box) => box.name === name && box.type !== "file");
      for (const box of boxes) {
        if (box.type === "checkbox" || box.type === "radio") box.checked ||= box.value === value;
        else if (box.tagName !== "BUTTON") box.value = value;
      }
    }
  };
  const texts = (fields) => fields.filter(([, value]) => typeof value === "string");
  const blobs = (fields) => fields.filter(([, value]) => typeof value !== "string").map(([, value]) => value);
  const reopen = (entry) => openForm(entry.kind, entry.spot, texts(entry.fields), blobs(entry.fields));

  // ---- telling
  const wordsOf = (form, pressed, fields) => {
    const said = fields.filter(([name]) => name === "what").map(([, value]) => value).join(", ");
    const photos = blobs(fields).length;
    const what = said || pressed?.dataset.words || "";
    return `${form.dataset.words || ""}: ${what}${photos ? `, ${photos} photo${photos > 1 ? "s" : ""}` : ""}`;
  };
  const tell = async (form, pressed) => {
    const reading = fieldsOf(form, pressed, true);  // read first: a disabled button says nothing
    pressed?.setAttribute("disabled", "");
    const fields = await reading;
    const set = (name, value) => {
      const at = fields.findIndex(([one]) => one === name);
      if (at < 0) fields.push([name, value]); else fields[at][1] = value;
    };
    const id = drawId();
    set("client_id", id);
    set("looked_at", new Date().toISOString());
    const spot = form.dataset.spot || form.closest("[id]")?.id || "";
    try {
      await keep({
        owner, id, spot, fields, url: form.getAttribute("action"), tells: form.dataset.tells,
        kind: form.dataset.kind || form.dataset.tells, words: wordsOf(form, pressed, fields), told: Date.now(),
      });
    } catch {
      pressed?.removeAttribute("disabled");
      find("kept").hidden = false;
      find("kept-words").textContent = "This device has no room to keep it. It was not told: free some room, or tell it where there is a connection.";
      return;
    }
    pressed?.removeAttribute("disabled");
    if (form === shown) { closeForm(); await dropTyped(); }
    await show();
    send();
  };

  // ---- what the page says of what waits
  const line = (words, tag = "li") => {
    const item = document.createElement(tag);
    item.textContent = words;
    return item;
  };
  const button = (words, deed) => {
    const made = line(words, "button");
    made.type = "button";
    made.className = "do do--plain";
    made.addEventListener("click", deed);
    return made;
  };
  const waits = (one) => !one.refused && !one.sent;
  const waiting = async () => (await allTold()).filter(waits);
  const show = async (stopped) => {
    const all = await allTold();
    const queue = all.filter(waits);
    const refused = all.filter((one) => one.refused);
    find("kept").hidden = queue.length === 0;
    find("kept-words").textContent = stopped
      || `${queue.length} not sent yet. It is kept on this device${find("away").hidden ? " and goes by itself once there is a connection" : ""}.`;
    find("kept-list").replaceChildren(...queue.map((one) => line(one.words)));
    find("refused").hidden = refused.length === 0;
    find("refused-list").replaceChildren(...refused.map(refusedLine));
    mark(all.filter((one) => !one.refused));
    if (!live.dataset.open && !queue.length && !refused.length) dropPage();
  };
  const refusedLine = (one) => {
    const item = line(`${one.words}. ${one.refused} `);
    if (document.getElementById(`round-form-${one.kind}`)) {
      item.append(button("Put it right", async () => { if (reopen(one)) { await drop(one.key); await show(); } }));
    }
    return item;
  };
  const mark = (queue) => {
    for (const old of live.querySelectorAll(".round__waits")) old.remove();
    for (const place of live.querySelectorAll(".round__line--waits")) {
      place.classList.remove("round__line--waits");
      if (place !== shown?.parentElement) place.querySelector(".round__answers")?.removeAttribute("hidden");
    }
    const places = new Set();
    for (const one of queue) for (const place of placesOf(one)) {
      places.add(place);
      place.classList.add("round__line--waits");
      if (place.matches(".round__line")) place.querySelector(".round__answers")?.setAttribute("hidden", "");
      const said = line("", "div");
      said.className = "round__waits stack stack--close";
      said.append(line(`Told: ${one.words.split(": ").slice(1).join(": ")}. ${one.sent ? "Sent." : "Waits to be sent."}`, "p"));
      if (one.tells !== "rest" && !one.sent) said.append(button("Told wrongly: take it back", async () => { await drop(one.key); await show(); }));
      place.append(said);
    }
    const far = find("far");
    if (far) {
      far.dataset.before ??= far.textContent;
      const [done, of] = far.dataset.before.split(" of ").map(Number);
      const more = [...places].filter((place) => place.matches(".round__line:not(.round__line--done)")).length;
      far.textContent = `${done + more} of ${of}`;
    }
  };
  const placesOf = (one) => {
    if (one.tells === "rest") {
      const ids = (one.fields.find(([name]) => name === "hoses")?.[1] || "").split(",");
      return ids.map((id) => live.querySelector(`[data-hose="${CSS.escape(id)}"]`)).filter(Boolean);
    }
    const place = document.getElementById(one.spot);
    return place && live.contains(place) ? [place] : [];
  };

  // ---- sending, one by one, in the order in which it was told
  let sending = false;
  const send = async () => {
    if (sending) return;
    sending = true;
    let told = false;
    try {
      for (let [next] = await waiting(); next; [next] = await waiting()) {
        const answer = await sendOne(next);
        if (answer.stop) { await show(answer.stop); break; }
        if (answer.refused) await keep({ ...next, refused: answer.refused });
        // Sent, but not on this page yet: should it be opened again from the phone, it says so.
        else await keep({ ...next, fields: texts(next.fields), sent: true });
        told = true;
      }
      if (told) await redraw();
    } catch { await show(); }
    sending = false;
    if ((await waiting()).length) setTimeout(send, again);
  };
  const sendOne = async (one, renewed = false) => {
    const token = document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
    const body = new FormData();
    one.fields.forEach(([name, value], at) => {
      if (typeof value === "string") body.append(name, value);
      else body.append(name, value, value.name || `photo-${at}.jpg`);
    });
    const response = await fetch(one.url, {
      method: "POST", redirect: "manual", credentials: "same-origin", body,
      headers: { Accept: "application/json", "X-CSRFToken": token }, signal: AbortSignal.timeout(patience),
    });
    if (response.ok || response.status === 422) away(false);
    if (response.status === 422) return { refused: (await response.json()).refused };
    if (response.ok) return { told: (await response.json()).told };
    if (response.status === 404) return { refused: "It is not there any more, or belongs to another site." };
    if (response.status >= 500) return { stop: "The server could not take it just now. It is kept on this device and is told again." };
    // An older page has an older token: the same person's page, asked for anew, has the one that holds.
    if (response.status === 403 && !renewed && await freshPage()) return sendOne(one, true);
    away(true);
    return { stop: "The server does not take it from this log-in. It is kept on this device." };
  };
  // The page as the server has it now, and the token that holds now; none for another person.
  const freshPage = async () => {
    const response = await fetch(location.pathname, { credentials: "same-origin", signal: AbortSignal.timeout(patience) });
    if (response.status >= 500) throw new Error("The server could not answer.");
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const fresh = page.getElementById("round-live");
    const theirs = fresh && fresh.dataset.person === live.dataset.person;
    away(response.redirected || (fresh && !theirs));
    if (!theirs) return null;
    const token = page.querySelector("[name=csrfmiddlewaretoken]")?.value;
    for (const box of document.querySelectorAll("[name=csrfmiddlewaretoken]")) box.value = token;
    return page;
  };
  const redraw = async () => {
    const sent = (await allTold()).filter((one) => one.sent);
    const page = shown ? null : await freshPage();
    if (page && !shown) {
      const fresh = page.getElementById("round-live");
      live.replaceChildren(...fresh.childNodes);
      live.dataset.open = fresh.dataset.open || "";
      // What must be taken out now is said at once, above everything else.
      document.querySelector(".alarms")?.remove();
      const alarms = page.querySelector(".alarms");
      if (alarms) document.querySelector("main .heading").before(alarms);
      keptAt = "";
      find("old").hidden = true;
      for (const one of sent) await drop(one.key);
    }
    await show();
  };
  const away = (is) => {
    find("away").hidden = !is;
    if (keptAt) sayKept(is);
  };

  // ---- the page kept on this device
  let { keptAt } = document.documentElement.dataset;
  let nextLook = 0;
  const sayKept = (reached) => {
    const at = new Date(keptAt);
    const day = at.toDateString() === new Date().toDateString() ? ""
      : `${at.toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" })}, `;
    const clock = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    const said = `is the page as of ${day}${clock} (kept on this phone)`;
    const words = reached ? `This ${said}.` : `No connection: this ${said}. What you tap is kept and sent later.`;
    if (find("old-words").textContent !== words) find("old-words").textContent = words;
    find("old").hidden = false;
  };
  const lookForNewer = async () => {
    clearTimeout(nextLook);
    if (!keptAt) return;
    try { await redraw(); } catch { /* no connection yet */ }
    clearTimeout(nextLook);
    if (keptAt) nextLook = setTimeout(lookForNewer, lookAgain);
  };
  const dropPage = () => window.caches?.delete(`kept:${live.dataset.person}:${location.pathname}`);
  const register = async () => {
    const worker = navigator.serviceWorker;  // none over plain HTTP from another machine
    if (!worker || !live.dataset.open) return;
    // The first time the page was there before its worker: asked for once more, it is kept.
    if (!worker.controller) worker.addEventListener("controllerchange", () => fetch(location.pathname), { once: true });
    await worker.register(live.dataset.worker, { scope: live.dataset.workerScope });
  };

  // ---- hands
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-tells]");
    if (!form || !base) return;
    event.preventDefault();
    tell(form, event.submitter);
  });
  document.addEventListener("click", async (event) => {
    const opener = event.target.closest("[data-opens]");
    if (opener && base) {
      const spot = opener.closest("[id]").id;
      const set = [...new URLSearchParams(opener.dataset.set || "")];
      const hose = opener.closest("[data-hose]")?.dataset.hose;
      if (openForm(opener.dataset.opens, spot, hose ? [["hose", hose], ...set] : set)) event.preventDefault();
    }
    if (event.target.closest("[data-round-close]")) { closeForm(); await dropTyped(); await redraw(); }
    const finish = event.target.closest("[data-round-finish]");
    if (finish && base && !finish.dataset.sure) {
      event.preventDefault();
      const left = (await waiting()).length;
      if (!left) { finish.dataset.sure = "yes"; finish.click(); return; }
      await show(`${left} not sent yet: finish the round once that has gone.`);
      find("kept").scrollIntoView({ block: "center" });
    }
  });
  document.addEventListener("input", async () => {
    if (!shown || !base) return;
    const form = shown;
    const fields = await fieldsOf(form, null, false);
    if (form === shown) await keepTyped({ kind: form.dataset.kind, spot: form.dataset.spot, fields });
  });
  find("refused-read").addEventListener("click", async () => {
    for (const one of await allTold()) if (one.refused) await drop(one.key);
    await show();
  });
  const tryNow = () => { if (base) { send(); lookForNewer(); } };
  addEventListener("online", tryNow);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) tryNow(); });
  register().catch(() => null);
  opened.then(async () => {
    if (!base) return;
    if (keptAt) { sayKept(false); nextLook = setTimeout(lookForNewer, again); }
    else for (const one of await allTold()) if (one.sent) await drop(one.key);
    await show();
    const typed = await typedBefore();
    if (typed) reopen(typed);
    send();
  });
})();
