// Where a server serves the site, a browser may keep it and install it; from a file neither is needed.

if (location.protocol.startsWith("http") && "serviceWorker" in navigator) {
  const { worker, manifest } = document.currentScript.dataset;
  const link = document.createElement("link");
  link.rel = "manifest";
  link.href = manifest;
  document.head.append(link);
  // Without a secure connection a browser refuses, and the site works as before.
  navigator.serviceWorker.register(worker).catch(() => undefined);
}
