/** Advice for clips: as loud as this speaker can play them, and stored so that all of them fit the board. */

import { get, post } from './api.js';
import { keepFocus, make, number, spoken } from './make.js';
import { say, trying } from './say.js';
import { newGesture } from './turn.js';

const NONE = 'none';

export class ClipAdvice {
  /** work: with its bar. settled(): once what was turned has reached the server. chosen(): the clip that is looked at. names(): of all clips. */
  constructor(orders, { work, settled, chosen, names }) {
    this.orders = orders;
    this.work = work;
    this.settled = settled;
    this.names = names;
    this.loud = make('div', { class: 'advice', id: 'advice-loud' });
    this.small = make('div', { class: 'advice', id: 'advice-fit' });
    this.one = this.button('Try this clip', () => this.findLoud([chosen()]));
    this.all = this.button('Try all clips', () => this.findLoud(names()));
    this.fit = this.button('Find what fits', () => this.findFit());
    this.back = this.button('Take an earlier choice back', () => this.takeBack());
    this.element = make('div', { class: 'clip-rest' },
      make('section', { class: 'plain', 'aria-labelledby': 'advice-loud-title' }, make('h3', { id: 'advice-loud-title' }, 'As loud as this speaker can be'),
        make('p', { class: 'small' }, 'Finds the high-pass, gain and limiter with which a clip is as loud as amplifier and speaker can play it alone, '
          + 'without clipping, without driving the cone too far, and without too much power. Loud sound harms ears.'),
        make('div', { class: 'row' }, this.one, this.all), this.loud),
      make('section', { class: 'plain', 'aria-labelledby': 'advice-fit-title' }, make('h3', { id: 'advice-fit-title' }, 'The best sound that fits the board'),
        make('p', { class: 'small' }, 'Tries every clip at several rates, codings and cuts, and picks those that together fit the board '
          + 'and whose loss is softest to the ear, as the press script plays them. An earlier choice does not count.'),
        make('div', { class: 'row' }, this.fit, this.back), this.small));
  }

  button(label, act) {
    const button = make('button', { type: 'button' }, label);
    button.addEventListener('click', () => trying(act));
    return button;
  }

  /** One work at a time; gives what is found, undefined where it was cancelled. */
  async find(place, what, label, body) {
    const buttons = [this.one, this.all, this.fit, this.back], begun = document.activeElement;
    place.replaceChildren();
    buttons.forEach((button) => { button.disabled = true; });
    try {
      await this.settled();
      return await this.work.run(place, what, label, () => post(`/api/${what}`, body));
    } finally {
      buttons.forEach((button) => { button.disabled = false; });
      keepFocus(begun, ...buttons);
    }
  }

  /** What was found of the prop as it stands before this page was opened. */
  async recall() {
    const { for_speaker: loud, fit } = await get('/api/found');
    if (loud) this.showLoud(loud);
    if (fit) this.showFit(fit);
  }

  async findLoud(names) {
    const found = await this.find(this.loud, 'for_speaker', 'Trying settings', { names });
    if (found) this.showLoud(found);
  }

  showLoud(found) {
    const tried = found.clips.filter((clip) => clip.found);
    const silent = found.clips.filter((clip) => !clip.found).map(({ name }) => spoken(name));
    const changes = tried.flatMap(({ name, found: { changes: settings } }) => Object.entries(settings).map(([key, value]) => ({ path: ['clips', name, key], value })));
    this.loud.replaceChildren(table(['Clip', 'High-pass', 'Gain', 'Limiter', 'Level at the hand', 'Cone', 'Takes'], tried.flatMap(loudRows)),
      ...tried.map(({ name, found: { text } }) => make('p', { class: 'small' }, `${spoken(name)}: ${text}`)),
      ...(silent.length ? [make('p', { class: 'small' }, `Nothing to hear in: ${silent.join(', ')}.`)] : []),
      this.useThese(changes));
  }

  async findFit() {
    const found = await this.find(this.small, 'fit', 'Trying ways to store', {});
    if (found) this.showFit(found);
  }

  showFit({ clips, table_bytes, room_bytes, softer_db }) {
    const rows = clips.map((clip) => [spoken(clip.name), clip.stored_as, `${clip.rate_hz} Hz`, clip.end_ms === null ? 'whole' : `to ${number(clip.end_ms, 5)} ms`,
      `${number(clip.bytes / 1024)} KiB`, softer(clip.softer_db)]);
    const loss = softer_db === null ? 'No loss is heard.' : `What is lost sounds ${number(softer_db)} dB softer than the sound; 10 dB softer is half as loud.`;
    this.small.replaceChildren(table(['Clip', 'Stored as', 'Rate', 'Cut', 'Takes', 'Loss'], rows),
      make('p', {}, `The table has ${number(table_bytes / 1024)} of ${number(room_bytes / 1024)} KiB. ${loss}`),
      this.useThese(clips.map(({ name, fitted }) => ({ path: ['clips', name, 'fitted'], value: fitted }))));
  }

  /** All in one step. */
  useThese(changes) {
    if (!changes.length) return make('p', {}, 'All is as it should be already.');
    const use = this.button('Use these', () => {
      this.orders.setAll(changes, newGesture());
      use.disabled = true;
      say('These settings are in the prop now. One undo takes them back.');
    });
    return use;
  }

  takeBack() {
    this.small.replaceChildren();
    this.orders.setAll(this.names().map((name) => ({ path: ['clips', name, 'fitted'], value: null })), newGesture());
    say('All clips are stored as they are meant.');
  }
}

/** A clip as it is, and as it is recommended. */
function loudRows({ name, found: { before, after } }) {
  const cells = ({ high_pass_hz, gain_db, limit_to_dbfs, laeq_db, uncertainty_db, excursion_peak_mm, bytes }) => [
    high_pass_hz === null ? NONE : `${number(high_pass_hz)} Hz`, `${number(gain_db)} dB`, limit_to_dbfs === null ? NONE : `${number(limit_to_dbfs)} dBFS`,
    laeq_db === null ? 'silence' : `${laeq_db.toFixed(1)} ± ${number(uncertainty_db, 2)} dB(A)`,
    excursion_peak_mm === null ? 'not known' : `${number(excursion_peak_mm, 2)} mm`, `${number(bytes / 1024)} KiB`];
  return [[`${spoken(name)}, now`, ...cells(before)], [`${spoken(name)}, then`, ...cells(after)]];
}

function softer(db) {
  return db === null ? NONE : `${number(db)} dB softer`;
}

function table(head, rows) {
  return make('div', { class: 'wide', tabIndex: 0, role: 'group', 'aria-label': 'What was found' }, make('table', { class: 'facts' },
    make('thead', {}, make('tr', {}, ...head.map((text) => make('th', { scope: 'col' }, text)))),
    make('tbody', {}, ...rows.map(([first, ...cells]) => make('tr', {}, make('th', { scope: 'row' }, first), ...cells.map((text) => make('td', {}, text)))))));
}
