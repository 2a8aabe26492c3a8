/** Sending the table to a board, and having the board prove that it plays the same. */

import { get, getBytes, post } from './api.js';
import { make, number, refocus, spoken } from './make.js';
import { calm, say, trying } from './say.js';

export class Sending {
  /** work: with its bar. settled(): once what was turned has reached the server, so that what is sent is what is seen. */
  constructor(place, work, settled) {
    this.place = place;
    this.work = work;
    this.settled = settled;
    this.ports = make('select', { id: 'port' });
    this.look = button('Search again', () => this.show());
    this.virtual = button('Start a virtual board', () => this.startVirtual());
    this.send = button('Send', () => this.ask(true));
    this.prove = button('Prove', () => this.proveIt());
    this.send.disabled = this.prove.disabled = true;
    this.question = make('div', { class: 'notice', hidden: true });
    this.result = make('p', {});
    place.replaceChildren(make('div', { class: 'field' }, make('label', { htmlFor: 'port' }, 'Board at'), this.ports),
      make('div', { class: 'row' }, this.look, this.virtual), make('div', { class: 'row' }, this.send, this.prove),
      this.question, this.result,
      make('p', { class: 'small' }, 'Prove makes the board play the press script in real time, with its sound and light, '
        + 'and compares what it does with the reference. A virtual board has no sound and no light.'));
  }

  async show() {
    this.asked = (this.asked || 0) + 1;
    const { asked } = this, ports = await get('/api/ports');
    if (asked !== this.asked) return;
    const before = this.ports.value;
    this.ports.replaceChildren(...ports.map(({ device, description }) => make('option', { value: device }, portName(device, description))));
    if (ports.some(({ device }) => device === before)) this.ports.value = before;
    if (!ports.length) this.ports.append(make('option', { value: '' }, 'none found'));
    this.send.disabled = this.prove.disabled = !ports.length;
  }

  async startVirtual() {
    const { port } = await post('/api/board');
    await this.show();
    this.ports.value = port;
    say('A virtual board is running. It stops when the bench ends.');
  }

  /** Nothing goes to a board unasked. */
  ask(isAsked) {
    this.question.hidden = !isAsked;
    if (!isAsked) return;
    const yes = button('Send it', () => this.push());
    this.question.replaceChildren(make('p', {}, `This replaces the table on the board: ${this.ports.selectedOptions[0].textContent}.`),
      make('div', { class: 'row' }, yes, button('Cancel', () => this.ask(false))));
    yes.focus();
  }

  async push() {
    calm();
    this.ask(false);
    this.busy(true);
    try {
      await this.settled();
      const { bytes } = await getBytes('/api/table');
      await this.work.run(this.place, 'push', 'Sending', () => post('/api/push', { port: this.ports.value, confirm: true }), false);
      this.result.textContent = `The board now plays this table of ${number(bytes.byteLength / 1024)} KiB.`;
      say('Sent.');
    } finally {
      this.busy(false);
      refocus(this.send);
    }
  }

  async proveIt() {
    calm();
    this.busy(true);
    try {
      await this.settled();
      const { equal, board, duration_s, difference, events_same } = await this.work.run(this.place, 'prove', 'Playing the press script on the board',
        () => post('/api/prove', { port: this.ports.value }), false);
      this.result.textContent = equal ? `${spoken(board)} did the same as the reference for the whole ${number(duration_s)} s.`
        : `${spoken(board)} differs: ${difference}. ${events_same} events are the same.`;
      say(equal ? 'Proved.' : 'The board differs.', !equal);
    } finally {
      this.busy(false);
      refocus(this.prove);
    }
  }

  busy(isBusy) {
    for (const control of [this.send, this.prove, this.look, this.virtual, this.ports]) control.disabled = isBusy;
    if (isBusy) this.result.textContent = '';
  }
}

/** What the system says of a port, if anything, before its name. */
function portName(device, description) {
  return description ? `${description} (${device})` : device;
}

function button(label, act) {
  const element = make('button', { type: 'button' }, label);
  element.addEventListener('click', () => trying(async () => act()));
  return element;
}
