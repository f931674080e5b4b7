// @ts-check
// The plan's name and file: saved in place or as a download, and a change of the file by another program is noticed.
import { at, keepFile, say } from "./dom.js";

const ALWAYS = "tilegen-save-always";

export class Files {
  /** @param {any} desk */
  constructor(desk) {
    this.desk = desk;
    /** What the file held when it was last read or saved here. */
    this.base = "";
    /** @type {HTMLInputElement} */
    this.name = at("plan-name");
    this.name.addEventListener("change", () => { if (this.name.value.trim()) desk.edit({ do: "name", name: this.name.value.trim() }, { said: "Renamed." }); });
    this.name.addEventListener("keydown", (event) => { if (event.key === "Enter") this.name.blur(); });
    this.name.addEventListener("blur", () => this.draw());
    at("save").addEventListener("click", () => this.save());
    at("save-over").addEventListener("click", () => this.save(true));
    at("take-theirs").addEventListener("click", () => this.#theirs());
    at("save-always").checked = localStorage.getItem(ALWAYS) === "yes";
    at("save-always").addEventListener("change", () => { localStorage.setItem(ALWAYS, at("save-always").checked ? "yes" : "no"); this.settled(); });
    window.addEventListener("focus", () => this.#changed());
  }

  draw() {
    const { plan } = this.desk, file = plan.file ? plan.file.split(/[\\/]/).pop() : "";
    if (document.activeElement !== this.name) this.name.value = plan.name;
    document.title = `${plan.name} - tilegen desk`;
    at("kept").textContent = file ? `${file}${plan.saved ? ", saved" : ", not saved"}` : plan.empty ? "" : "Kept on this computer";
    at("always").hidden = !file;
    if (!file) at("changed").hidden = true;
  }

  // The first look at the file, to know later whether it has changed.
  async begin() {
    if (this.desk.plan.file) this.base = (await this.desk.ask("/file", {})).base;
  }

  // All is answered: save it if the user has said so.
  settled() {
    const { plan } = this.desk;
    if (at("save-always").checked && plan.file && !plan.saved && !plan.fault && at("changed").hidden) this.save();
  }

  /** Into its file; a plan without one is downloaded. @param {boolean} [over] also over what another program has written */
  async save(over = false) {
    this.name.blur();
    await this.desk.settled();
    const { plan } = this.desk;
    if (!plan.file) {
      const { text, name } = await this.desk.text();
      keepFile(new Blob([text], { type: "application/toml" }), name);
      say(`${name} downloaded.`);
      return;
    }
    const name = plan.file.split(/[\\/]/).pop();
    try {
      const answer = await this.desk.save(over);
      at("changed").hidden = !answer.changed;
      if (answer.changed) return;
      this.base = answer.base || (await this.desk.ask("/file", {})).base;
      say(answer.kept ? `${name} saved. What was there is kept as ${answer.kept}.` : `${name} saved.`);
    } catch (error) { say(`${name} was not saved: ${/** @type {Error} */ (error).message}.`); }
    this.draw();
  }

  async #theirs() {
    at("changed").hidden = true;
    const outcome = await this.desk.takeTheirs();
    if (!outcome?.refused) { say("The file as it is on disk. Undo brings yours back."); await this.begin(); }
  }

  // Another program may have written the file while this page was not looked at.
  async #changed() {
    if (!this.desk.plan?.file || !this.base) return;
    const found = await this.desk.ask("/file", {}).catch(() => null);
    if (found && found.base !== this.base) at("changed").hidden = false;
  }
}
