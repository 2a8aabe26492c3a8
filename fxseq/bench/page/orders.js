/** The one line of orders to the server: each is answered, and its answer shown, before the next one goes. */

import { post } from './api.js';
import { calm, trying } from './say.js';

export class Orders {
  /** took(prop): shows an answer. refused(): shows again what holds. */
  constructor(took, refused) {
    this.took = took;
    this.refused = refused;
    this.waiting = [];     // {path, body, changes, gesture, lamps, done, fail}; changes: of values; lamps: that were moved; neither in another order
    this.onTheWay = null;  // the one that has been sent
    this.isSending = false;
    this.renamed = [];     // {kind, name, new} of things that are still shown under the name before
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
   * @param {string} path @param {any} body @param {{ changes?: any[], gesture?: string, lamps?: any }} about
   * @returns {Promise<any>}
   */
  ask(path, body = {}, { changes = [], gesture = '', lamps } = {}) {
    return new Promise((done, fail) => {
      this.waiting.push({ path, body, changes, gesture, lamps, done, fail });
      if (!this.isSending) this.sent = this.send();
    });
  }

  /**
   * Sets one value of the file; null takes it out. gesture: a word that edits of one movement have in common; they are undone in one step.
   * told(error): says what was refused where it was turned, if not in the status line.
   */
  set(path, value, gesture, told = undefined) {
    this.turn([{ path, value }], gesture, told, true);
  }

  /** Sets several values at once, [{path, value}]. */
  setAll(changes, gesture, told = undefined) {
    this.turn(changes, gesture, told, false);
  }

  /** What waits of one movement goes together, each place as it was left last: a hand is quicker than answers. */
  turn(changes, gesture, told = (error) => { throw error; }, isOne) {
    const last = this.waiting.at(-1), isOn = last?.changes.length && last.gesture === gesture;
    const order = settingOf(isOn ? latest([...last.changes, ...changes]) : changes, gesture, isOne);
    if (isOn) Object.assign(last, order);
    else trying(() => this.ask(order.path, order.body, order).catch(told));
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

  /** Values of the file as they will be then; what comes and goes otherwise is in the answers alone. */
  laidOver(values) {
    const changes = this.pending.flatMap((order) => order.changes);
    if (!changes.length) return values;
    const laid = structuredClone(values);
    for (const { path, value } of changes) put(laid, path, structuredClone(value));
    return laid;
  }

  /** An order about a thing that was renamed meanwhile. */
  inNewNames(order) {
    return this.renamed.reduce((now, { kind, name, new: fresh }) => {
      const called = (path) => (path[0] === kind && path[1] === name ? [kind, fresh, ...path.slice(2)] : path);
      const isIt = now.name === name && (now.kind ?? kind) === kind;
      return { ...now, ...(isIt && { name: fresh }), ...(now.path && { path: called(now.path) }),
        ...(now.changes && { changes: now.changes.map((change) => ({ ...change, path: called(change.path) })) }) };
    }, order);
  }

  async send() {
    this.isSending = true;
    while (this.waiting.length) {
      const { path, body, done, fail } = this.onTheWay = this.waiting.shift();
      const sent = this.inNewNames(typeof body === 'function' ? body() : body);
      let fault = null;
      const prop = await post(path, sent).catch((error) => { fault = error; });
      this.onTheWay = null;
      if (prop) calm();
      if (prop && sent.do === 'rename') this.renamed.push(sent);
      await trying(() => (prop ? this.took(prop) : this.refused()));
      if (fault) fail(fault);
      else done(prop);
    }
    this.isSending = false;
  }
}

/** The order that sets values: one, or several at once. */
function settingOf(changes, gesture, isOne) {
  if (isOne && changes.length === 1) return { path: '/api/edit', body: { ...changes[0], gesture }, changes, gesture };
  return { path: '/api/parts', body: { do: 'set', changes, gesture }, changes, gesture };
}

/** Of several changes of one place the last. */
function latest(changes) {
  return [...new Map(changes.map((change) => [JSON.stringify(change.path), change])).values()];
}

/** Null takes it out. A place that is not there stays so. */
function put(values, path, value) {
  const place = path.slice(0, -1).reduce((within, step) => within?.[step], values), key = path.at(-1);
  if (value !== null && place) place[key] = value;
  else if (Array.isArray(place)) place.splice(key, 1);
  else if (place) delete place[key];
}
