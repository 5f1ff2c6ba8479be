// The trial recorder without a sure connection. What is told goes into a queue kept on this
// device, by person and trial, and leaves it only when the server has answered for it. What is
// typed but not told yet is kept beside it. Told twice by one id, a thing is done once.
"use strict";

(() => {
  const live = document.getElementById("trial-live");
  if (!live) return;
  const key = `layline-trial:${live.dataset.person}:${live.dataset.trial}`;
  const smallStep = 0.25;
  const again = 5000;
  const find = (name) => document.querySelector(`[data-trial-${name}]`);

  const read = () => {
    const empty = { queue: [], typed: {}, refused: [] };
    try { return { ...empty, ...JSON.parse(localStorage.getItem(key)) }; } catch { return empty; }
  };
  const write = (state) => {
    const spent = !state.queue.length && !state.refused.length && !Object.keys(state.typed).length;
    try {
      if (spent) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(state));
      return true;
    } catch { return false; }
  };
  const drawId = () => Array.from(crypto.getRandomValues(new Uint8Array(16)),
    (byte) => byte.toString(16).padStart(2, "0")).join("");

  const boxes = (form) => [...form.elements].filter((box) => box.name && box.type !== "hidden" && box.tagName === "INPUT");
  const keepTyped = (form) => {
    const state = read();
    state.typed[form.dataset.tells] = boxes(form).map((box) => box.value);
    write(state);
  };
  const fillTyped = () => {
    const { typed, queue, refused } = read();
    // A closed trial takes nothing more: what was typed for it is spent.
    if (!live.querySelector("form[data-tells]")) write({ queue, refused, typed: {} });
    for (const form of live.querySelectorAll("form[data-tells]")) {
      const values = typed[form.dataset.tells];
      if (values) boxes(form).forEach((box, at) => { if (values[at]) box.value = values[at]; });
    }
    const last = waitingPress(queue);
    const setting = live.querySelector("form[data-tells=press] [name=setting_mm]");
    if (last && setting && !typed.press) setting.value = nextAfter(last);
  };
  // The last press that waits to be sent and was not undone here.
  const waitingPress = (queue) => {
    const undone = new Set(queue.filter((one) => one.kind === "undo").map((one) => one.id));
    return queue.filter((one) => one.kind === "press" && !undone.has(one.id)).at(-1);
  };
  const nextAfter = (press) => {
    const dialled = Number(String(press.setting).replace(",", "."));
    return Number.isFinite(dialled) ? Math.max(dialled - smallStep, 0).toFixed(2) : "";
  };

  const show = (offline) => {
    const { queue, refused } = read();
    const kept = find("kept");
    kept.hidden = queue.length === 0;
    find("kept-words").textContent = offline
      || `${queue.length} not sent yet. It is kept on this device and goes by itself once there is a connection.`;
    find("kept-list").replaceChildren(...queue.map((one) => line(one.words)));
    showWaiting(queue);
    find("refused").hidden = refused.length === 0;
    find("refused-list").replaceChildren(...refused.map((one) => line(`${one.words}: ${one.sentence}`)));
  };
  // What the page says of the trial, put right by what waits to be sent.
  const showWaiting = (queue) => {
    const last = waitingPress(queue);
    const refuses = last?.pin === "refuses";
    say(find("stands"), last && `${last.words}. ${refuses
      ? "Press no further: measure the OD and close the trial." : `Dial ${nextAfter(last)} mm.`}`);
    say(find("undo-words"), last && `Undo: ${last.words}`);
    if (refuses) live.querySelector("form[data-tells=close]")?.closest("details")?.setAttribute("open", "");
  };
  const say = (place, words) => {
    if (!place) return;
    place.dataset.before ??= place.textContent;
    place.textContent = words || place.dataset.before;
  };
  const line = (words) => {
    const item = document.createElement("li");
    item.textContent = words;
    return item;
  };

  const wordsOf = (kind, data, pressed) => {
    if (kind === "press") return `Press at ${data.get("setting_mm")} mm, pin ${pressed.value}`;
    if (kind === "undo") return "Undo the last press";
    return `Close with OD ${data.getAll("readings").filter(Boolean).join(", ") || "not read"}`;
  };

  const tell = (form, pressed) => {
    const kind = form.dataset.tells;
    const data = new FormData(form, pressed);
    const state = read();
    if (kind === "undo") {
      const waiting = waitingPress(state.queue);
      if (waiting) data.set("client_id", waiting.id);
    } else data.set("client_id", drawId());
    data.delete("csrfmiddlewaretoken");
    state.queue.push({
      kind, url: form.getAttribute("action"), id: data.get("client_id"), fields: [...data],
      setting: data.get("setting_mm"), pin: data.get("pin"), words: wordsOf(kind, data, pressed),
    });
    delete state.typed[kind];
    if (!write(state)) return false;
    boxes(form).forEach((box) => { if (box.name === "readings") box.value = ""; });
    fillTyped();
    show();
    send();
    return true;
  };

  let sending = false;
  const send = async () => {
    if (sending || !read().queue.length) return;
    sending = true;
    let told = false;
    try {
      while (read().queue.length) {
        const answer = await sendOne(read().queue[0]);
        if (answer.stop) { show(answer.stop); break; }
        const state = read();
        const [done] = state.queue.splice(0, 1);
        if (answer.refused) state.refused.push({ words: done.words, sentence: answer.refused });
        write(state);
        told = true;
      }
      if (told) await redraw();
    } catch { show(); }
    sending = false;
    if (read().queue.length) setTimeout(send, again);
  };
  const sendOne = async (one) => {
    const token = document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
    const response = await fetch(one.url, {
      method: "POST", redirect: "manual", credentials: "same-origin",
      headers: { Accept: "application/json", "X-CSRFToken": token },
      body: new URLSearchParams(one.fields),
    });
    if (response.status === 422) return { refused: (await response.json()).refused };
    if (response.ok) return { told: (await response.json()).told };
    if (response.status >= 500) return { stop: "The server could not take it just now. It is kept on this device and is told again." };
    return { stop: "The server does not take it from this log-in. It is kept on this device: log in again and open this trial." };
  };
  const redraw = async () => {
    const response = await fetch(location.pathname, { credentials: "same-origin" });
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const fresh = page.getElementById("trial-live");
    if (fresh) live.replaceChildren(...fresh.childNodes);
    fillTyped();
    show();
  };

  live.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-tells]");
    if (form) keepTyped(form);
  });
  live.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-tells]");
    if (form && tell(form, event.submitter)) event.preventDefault();
  });
  find("refused-read").addEventListener("click", () => {
    write({ ...read(), refused: [] });
    show();
  });
  addEventListener("online", send);
  fillTyped();
  show();
  send();
})();
