/** The one line of orders to the server: each is answered, and its answer shown, before the next one goes. */

import { post } from './api.js';
import { calm, trying } from './say.js';

export class Orders {
  /** took(prop): shows an answer. refused(): shows again what holds. */
  constructor(took, refused) {
    this.took = took;
    this.refused = refused;
    this.waiting = [];     // {path, body, changes, lamps, done, fail}; changes: of values; lamps: that were moved; neither in another order
    this.onTheWay = null;  // the one that has been sent
    this.isSending = false;
    this.sent = Promise.resolve();
  }

  /** Whether what the page shows is ahead of any answer that may come now. Moved lamps are not: they are laid over it (moves.js). */
  get areWaiting() {
    return this.pending.some(({ lamps }) => !lamps);
  }

  /** What the server has not answered yet. */
  get pending() {
    return this.onTheWay ? [this.onTheWay, ...this.waiting] : this.waiting;
  }

  /** Once all orders have been answered: what is sent or kept then has them in it. */
  settled() {
    return this.sent;
  }

  /**
   * Has the server do something, in its turn; gives the prop once it is shown. body: or what makes it when it is sent.
   * Rejects with what was refused, once what holds is shown again.
   * @param {string} path @param {any} body @param {{ changes?: any[], lamps?: any }} about
   * @returns {Promise<any>}
   */
  ask(path, body = {}, { changes = [], lamps } = {}) {
    return new Promise((done, fail) => {
      this.waiting.push({ path, body, changes, lamps, done, fail });
      if (!this.isSending) this.sent = this.send();
    });
  }

  /**
   * Sets one value of the file; null takes it out. gesture: a word that edits of one movement have in common; they are undone in one step.
   * told(error): says what was refused where it was turned, if not in the status line.
   */
  set(path, value, gesture, told = undefined) {
    this.change('/api/edit', { path, value, gesture }, [{ path, value }], told);
  }

  /** Sets several values at once, [{path, value}]. */
  setAll(changes, gesture, told = undefined) {
    this.change('/api/parts', { do: 'set', changes, gesture }, changes, told);
  }

  /** Of several for the same places that wait, the last goes. */
  change(path, body, changes, told = (error) => { throw error; }) {
    const last = this.waiting.at(-1);
    if (last?.changes.length && placesOf(last.changes) === placesOf(changes)) Object.assign(last, { body, changes });
    else trying(() => this.ask(path, body, { changes }).catch(told));
  }

  /** Settings as they will be once the changes under way have been answered. */
  over(settings) {
    const changes = this.pending.flatMap((order) => order.changes);
    const values = new Map(changes.map(({ path, value }) => [JSON.stringify(path), value]));
    return settings.map((setting) => {
      const place = JSON.stringify(setting.path);
      return values.has(place) ? { ...setting, value: values.get(place) ?? setting.default } : setting;
    });
  }

  async send() {
    this.isSending = true;
    while (this.waiting.length) {
      const { path, body, done, fail } = this.onTheWay = this.waiting.shift();
      let fault = null;
      const prop = await post(path, typeof body === 'function' ? body() : body).catch((error) => { fault = error; });
      this.onTheWay = null;
      if (prop) calm();
      await trying(() => (prop ? this.took(prop) : this.refused()));
      if (fault) fail(fault);
      else done(prop);
    }
    this.isSending = false;
  }
}

/** Where changes are made, as a text. */
function placesOf(changes) {
  return changes.map(({ path }) => JSON.stringify(path)).join();
}
