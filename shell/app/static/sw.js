// Keeps the whole app on the device, so that it starts and works without a network. Above this line the build writes
// VERSION, a hash over everything, and FILES, each file with the hash of its content, which the browser checks itself.
//
// A newer version is fetched beside the one in use and waits: only the page says when it takes over, and never in a call.

const CACHE = `callwright-${VERSION}`;

self.addEventListener("install", (event) => {
  const requests = FILES.map(([path, integrity]) => new Request(path, { integrity, cache: "no-cache" }));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(requests)));
});

self.addEventListener("activate", (event) => {
  const old = (name) => name.startsWith("callwright-") && name !== CACHE;
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") {
    self.skipWaiting();
  }
});

self.addEventListener("fetch", (event) => {
  const request = event.request;
  if (request.method !== "GET" || new URL(request.url).origin !== self.location.origin) {
    return;
  }
  const guide = new URL(request.url).pathname.endsWith("/guide.html");
  const wanted = request.mode === "navigate" && !guide ? "index.html" : request;
  event.respondWith(
    caches.open(CACHE)
      .then((cache) => cache.match(wanted, { ignoreSearch: true }))
      .then((found) => found ?? fetch(request)),
  );
});
