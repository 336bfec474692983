/* Keeps the last pages of this view for when it cannot be reached: those that the server marks, and no others. */
"use strict";
const VERSION = "VERSION", FILES = ["FILES"];
const MOST = 30, MARK = "refdb-keep", COPY = "refdb-copy", LIST = "/offline";
const PAGES = `refdb pages ${VERSION}`, PARTS = `refdb parts ${VERSION}`;

const place = (url) => url.pathname + url.search;
/* Without records of one's own; the server answers with nothing where they bear on the page. */
const copy = (where) => fetch(where, { headers: { [COPY]: "1" }, cache: "no-store" });

const drop = async (url) => (await caches.open(PAGES)).delete(place(url));

const keep = async (url, answer) => {
  const cache = await caches.open(PAGES);
  await cache.delete(place(url));
  await cache.put(place(url), answer);
  for (const old of (await cache.keys()).slice(0, -MOST)) await cache.delete(old);
};

const ask = async (url) => {
  const answer = await copy(place(url));
  if (answer.headers.get(MARK) === VERSION) await keep(url, answer);
  else if (answer.status === 204) await drop(url);
};

const clear = async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith("refdb ") && name !== PAGES && name !== PARTS) await caches.delete(name);
  }
};

/* What came from the view itself decides whether the page is kept, and whether what was kept before is out of date. */
const seen = async (url, answer) => {
  const [version, how] = (answer.headers.get(MARK) || "").split(" ");
  if (!version) return answer.status === 200 && drop(url);
  if (version !== VERSION) {
    await caches.delete(PAGES);
    return registration.update();
  }
  if (url.pathname === LIST) return;
  return how ? ask(url) : keep(url, answer);
};

/* A kept page, which says so; the list of them where it was not kept. */
const kept = async (url) => {
  const page = await (await caches.open(PAGES)).match(place(url));
  const found = page || (await (await caches.open(PARTS)).match(LIST));
  if (!found) return Response.error();
  const day = new Date(found.headers.get("date")).toLocaleString("en-GB", { dateStyle: "long", timeStyle: "short" });
  const told = page ? `Kept on ${day}. refdb cannot be reached just now, so nothing new can be asked.`
    : url.pathname === LIST ? "refdb cannot be reached just now." : "refdb cannot be reached just now, and this page was not kept.";
  const text = (await found.text()).replace(/<main[^>]*>/, (main) => `${main}<p class="soft shut">${told}</p>`);
  const headers = new Headers(found.headers);
  for (const name of ["content-encoding", "content-length"]) headers.delete(name);
  return new Response(text, { headers });
};

const page = async (event, url) => {
  let answer;
  try {
    answer = (await event.preloadResponse) || (await fetch(event.request));
  } catch {
    return kept(url);
  }
  event.waitUntil(seen(url, answer.clone()).catch(() => {}));
  return answer;
};

const part = async (request) => (await (await caches.open(PARTS)).match(request)) || fetch(request);

addEventListener("install", (event) => event.waitUntil((async () => {
  const cache = await caches.open(PARTS);
  for (const file of FILES) await cache.put(file, await copy(file));
  await skipWaiting();
})()));

addEventListener("activate", (event) => event.waitUntil((async () => {
  await clear();
  if (registration.navigationPreload) await registration.navigationPreload.enable();
  await clients.claim();
  /* Pages that were open before there was anyone to keep them. */
  for (const one of await clients.matchAll({ type: "window" })) await ask(new URL(one.url)).catch(() => {});
})()));

addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event, url));
  else if (FILES.includes(place(url))) event.respondWith(part(request));
});
