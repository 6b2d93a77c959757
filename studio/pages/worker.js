/* Opens pages that asked for it without a network. A page sends {type: "keep", user, urls}: its own address and the
   files that it needs. Nothing else is kept, and what is kept belongs to one person: another one's pages replace it,
   and {type: "forget"} removes it when she leaves. */
"use strict";

const CACHE = "meniscus.pages.";
const PATIENCE_MS = 4000; // a server that does not answer in that time is as good as away

self.addEventListener("install", function () { self.skipWaiting(); });
self.addEventListener("activate", function (event) { event.waitUntil(self.clients.claim()); });

self.addEventListener("message", function (event) {
  if (event.data.type === "keep") { event.waitUntil(keep(event.data.user, event.data.urls)); }
  if (event.data.type === "forget") { event.waitUntil(forgetAllBut("")); }
});

self.addEventListener("fetch", function (event) {
  const request = event.request;
  const isOurs = request.method === "GET" && new URL(request.url).origin === self.location.origin;
  if (isOurs && (request.mode === "navigate" || ["script", "style", "image"].includes(request.destination))) {
    event.respondWith(answer(request));
  }
});

// A page behind the login redirects once nobody is signed in; what was redirected must never be kept for it.
function isWhole(response) {
  return response.ok && response.type === "basic" && !response.redirected;
}

async function forgetAllBut(name) {
  const others = (await caches.keys()).filter(function (other) { return other.startsWith(CACHE) && other !== name; });
  await Promise.all(others.map(function (other) { return caches.delete(other); }));
}

async function keep(user, urls) {
  const name = CACHE + user;
  await forgetAllBut(name);
  const cache = await caches.open(name);
  await Promise.all(urls.map(async function (url) {
    const response = await fetch(url, { redirect: "manual", credentials: "same-origin" }).catch(function () { return null; });
    if (response && isWhole(response)) { await cache.put(url, response); }
  }));
}

function inTime(promise) {
  return Promise.race([promise, new Promise(function (resolve, reject) { setTimeout(reject, PATIENCE_MS); })]);
}

async function answer(request) {
  const kept = await caches.match(request, { ignoreVary: true, ignoreSearch: request.mode === "navigate" });
  if (!kept) { return fetch(request); }
  try {
    const response = await inTime(fetch(request));
    return response.status >= 502 && response.status <= 504 ? kept : response;
  } catch (away) {
    return kept;
  }
}
