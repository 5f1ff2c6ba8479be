// The worker of rounds. It keeps the page of a round that was opened, with its styles, scripts and
// type, so that it opens again where there is no connection. The network is asked first, always.
// Kept is only what the server gave whole, of a round that is open, to a person who may walk it:
// its answer says so (`Round-Page: PERSON open`). One store a round: `kept:PERSON:ADDRESS`.
"use strict";

const ROUND = /^\/rounds\/[0-9]{1,18}\/$/;
const FILES = "/static/";
const NAMED_BY_CONTENT = /\.[0-9a-f]{12}\.[a-z0-9]+$/;
const PATIENCE = 4000;
const MOST = 8;
const LONGEST = 7 * 24 * 60 * 60 * 1000;
const NOBODY_THERE = [502, 503, 504];  // a proxy's word that the server does not answer
const AS_NAMED = { ignoreVary: true };
const inWork = new Set();

addEventListener("install", () => skipWaiting());
addEventListener("activate", (event) => event.waitUntil(clients.claim()));
addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (ROUND.test(url.pathname)) event.respondWith(pageOf(event, url.pathname));
  else if (url.pathname.startsWith(FILES)) event.respondWith(fileOf(event.request));
});

// ---- what a page is answered with
const pageOf = async (event, path) => {
  let givenUp = false;
  const asked = fetch(event.request);
  event.waitUntil(asked.then((answer) => (givenUp ? null : heed(path, answer.clone()))).catch(() => null));
  if (event.request.mode !== "navigate") return asked;
  const pause = new Promise((resolve) => setTimeout(resolve, PATIENCE));
  const answer = await Promise.race([asked, pause]).catch(() => null);
  if (answer && !NOBODY_THERE.includes(answer.status)) return answer;
  const kept = await keptPage(path);
  givenUp = Boolean(kept);
  return kept || asked;
};
const keptPage = async (path) => {
  for (const name of await caches.keys()) {
    if (!name.startsWith("kept:") || !name.endsWith(`:${path}`)) continue;
    const page = await caches.match(path, { cacheName: name, ...AS_NAMED });
    if (page && Date.now() - Date.parse(page.headers.get("Kept-At")) < LONGEST) return page;
  }
  return null;
};
// A name made from the content can hide nothing newer: it is taken from here without asking.
const fileOf = async (request) => {
  const kept = await caches.match(request.url, AS_NAMED);
  if (kept && NAMED_BY_CONTENT.test(new URL(request.url).pathname)) return kept;
  try { return await fetch(request); } catch (fault) {
    if (kept) return kept;
    throw fault;
  }
};

// ---- what is kept, and what goes
const heed = async (path, answer) => {
  const [person, standing] = (answer.headers.get("Round-Page") || "").split(" ");
  const refused = [403, 404].includes(answer.status);
  if (answer.type === "opaqueredirect" || answer.redirected) return;
  if (answer.status === 200 && standing === "open") await keepPage(person, path, answer);
  else if (refused || (answer.status === 200 && !person)) await dropPage(path);
};
const keepPage = async (person, path, answer) => {
  const name = `kept:${person}:${path}`;
  inWork.add(name);
  try {
    const store = await caches.open(name);  // first: a store thrown away meanwhile stays away
    const at = new Date().toISOString();
    const page = await answer.text();
    const files = await keepFiles(store, page);
    const headers = new Headers(answer.headers);
    for (const gone of ["Content-Encoding", "Content-Length"]) headers.delete(gone);
    headers.set("Kept-At", at);
    await store.put(path, new Response(page.replace("<html ", `<html data-kept-at="${at}" `), { headers }));
    for (const one of await store.keys()) {
      const { pathname } = new URL(one.url);
      if (pathname !== path && !files.has(pathname)) await store.delete(one);
    }
  } finally { inWork.delete(name); }
  await tidy(person);
};
// The files that a page names, and those that its styles name.
const keepFiles = async (store, page) => {
  const files = new Set();
  const take = async (address, from) => {
    const { pathname } = new URL(address, from);
    if (!pathname.startsWith(FILES) || files.has(pathname)) return;
    files.add(pathname);
    const file = await fileOf(new Request(pathname));
    if (!file.ok) throw new Error(`${pathname}: ${file.status}`);
    await store.put(pathname, file.clone());
    if (!pathname.endsWith(".css")) return;
    const named = (await file.text()).matchAll(/url\(["']?([^"')]+)/g);
    for (const [, inner] of named) await take(inner, new URL(pathname, location.origin));
  };
  const named = page.matchAll(/(?:href|src)="(\/static\/[^"]+)"/g);
  await Promise.all([...named].map(([, address]) => take(address, location.origin)));
  return files;
};
const dropPage = async (path) => {
  for (const name of await caches.keys()) {
    if (name.startsWith("kept:") && name.endsWith(`:${path}`)) await caches.delete(name);
  }
};
// No other person's, none without its page, none too old, and of the rest the newest few.
const tidy = async (person) => {
  const pages = [];
  for (const name of await caches.keys()) {
    if (!name.startsWith("kept:") || inWork.has(name)) continue;
    const [, whose, path] = name.split(":");
    const page = await caches.match(path, { cacheName: name, ...AS_NAMED });
    const at = Date.parse(page?.headers.get("Kept-At"));
    if (whose === person && Date.now() - at < LONGEST) pages.push([at, name]);
    else await caches.delete(name);
  }
  pages.sort(([one], [other]) => other - one);
  for (const [, name] of pages.slice(MOST)) await caches.delete(name);
};
