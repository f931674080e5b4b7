/* A browser starts no worker for a page that was opened as a file. Search runs in one, so a hidden frame takes its
   place there; where a worker can be had nothing is changed. */
if (location.protocol === "file:") {
  window.Worker = class extends EventTarget {
    constructor(address) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.body.append(frame);
      const inside = frame.contentWindow;
      inside.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      const script = inside.document.createElement("script");
      this.ready = new Promise((done) => script.addEventListener("load", done));
      script.src = new URL(address, location.href).href;
      inside.document.body.append(script);
      this.frame = frame;
    }

    postMessage(data) {
      this.ready.then(() => this.frame.contentWindow.dispatchEvent(new MessageEvent("message", { data })));
    }

    terminate() {
      this.frame.remove();
    }
  };
}
