// Starts the one module, in the page and in its worker alike. The module itself finds out which of the two it is in.
import init from "./app.js";

const page = typeof document !== "undefined";

init().then(
  () => page && document.getElementById("starting")?.remove(),
  (error) => {
    console.error(error);
    if (!page) {
      self.postMessage(JSON.stringify({
        trouble: { say: "the engine could not be started", mend: "close the app and open it again; nothing is lost" },
      }));
      return;
    }
    const starting = document.getElementById("starting");
    if (starting) {
      starting.textContent = "The app could not be started. Load the page again; nothing that was kept is lost.";
    }
  },
);
