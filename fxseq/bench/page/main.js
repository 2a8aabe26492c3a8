/** Brings the parts of the page together. */

import { bytesOf, get, getBytes, isAlone, onChanges, post, tableOf } from './api.js';
import { Build } from './build.js';
import { Clips } from './clips.js';
import { Drops } from './drops.js';
import { Fades } from './fades.js';
import { scriptInWords, showFigures, showFindings } from './figures.js';
import { Listening, WAYS } from './listen.js';
import { byId, keepFocus, make, spoken } from './make.js';
import { Modes } from './modes.js';
import { Orders } from './orders.js';
import { Others } from './others.js';
import { Paces } from './pace.js';
import { Picture } from './picture.js';
import { Place } from './place.js';
import { Board } from './play.js';
import { Presses } from './presses.js';
import { keepPresses } from './record.js';
import { say, sayIn, trying } from './say.js';
import { Sending } from './send.js';
import { KINDS, SPAN_S, Strip } from './strip.js';
import { Settings } from './turn.js';
import { Work } from './work.js';

const NUMBERS_AFTER_MS = 400;
const ANSWER_WITHIN_MS = 300;
const EVENTS_SHOWN = 12;

class Bench {
  constructor() {
    sayIn(byId('status'));
    /** What a page that plays alone does not have. @type {any} */
    this.build = undefined;
    /** @type {any} */
    this.place = undefined;
    /** @type {any} */
    this.modes = undefined;
    /** @type {any} */
    this.drops = undefined;
    this.listening = new Listening();
    this.board = new Board((report) => this.heed(report), (context, node) => this.listening.wire(context, node));
    this.orders = new Orders((prop) => this.take(prop), async () => {
      await this.take(await get('/api/prop'));
      this.build?.again();
    });
    this.paces = new Paces(this.orders, () => this.presses.standing);
    this.presses = new Presses((kind, index, value) => this.board.event(kind, index, value), () => this.board.resume(),
      { beside: (input) => (isAlone ? null : this.paces.beside(input)), turned: () => this.paces.draw() });
    this.picture = new Picture(byId('picture'), (isGentle) => this.sayGentle(isGentle));
    this.strip = new Strip(byId('strip'));
    this.work = new Work();
    this.rates = new Work({ what: 'rates' });
    this.rates.name('Trying rates');
    this.rates.show(null);
    this.ratesAgain = make('button', { type: 'button' }, 'Try rates');
    this.ratesAgain.addEventListener('click', () => trying(async () => {
      await post('/api/rates');
      await this.figures();
    }));
    this.settings = new Settings(byId('settings'), this.orders);
    this.fades = new Fades(byId('fades'), this.orders);
    this.clips = new Clips(byId('clips'), this.orders, {
      take: (files) => this.drops.take(files), play: (buffer, ended) => this.listening.hear(buffer, ended),
      decode: (bytes) => this.board.decode(bytes), build: (name) => this.build.visit('clips', name),
      work: this.work, settled: () => this.settled() });
    const take = (files) => this.drops.take(files);
    if (!isAlone) this.workshop(take);
    this.sending = new Sending(byId('sending'), this.work, () => this.settled());
    this.others = new Others(byId('others'), this.work, () => this.settled());
    this.events = [];
    this.revision = 0;
    this.buttons();
  }

  /** What changes the prop as a whole: its parts, its lamps, its files. */
  workshop(take) {
    this.build = new Build({ say: byId('sentences'), list: byId('things'), form: byId('thing'), lamps: byId('lamps'), plan: byId('handles') },
      { settled: () => this.settled(), take, paceOf: (trigger) => this.paces.ofSentence(trigger), edits: this.orders,
        hear: (effect) => this.hear(effect), play: (script) => this.playScript(script), replace: (clip, file) => this.drops.replace(clip, file),
        looks: (kind, name) => this.clips.lend(kind === 'clips' && name ? byId('beside') : null, name), enter: (mode) => this.modes.enter(mode) });
    this.place = this.build.place = new Place({ tools: byId('place-tools'), stage: byId('stage'), canvas: byId('plan'), overlay: byId('handles'), side: byId('lamps') },
      { take, edits: this.orders, build: this.build });
    this.modes = new Modes(byId('modes'), (mode) => this.build.enter(mode));
    this.drops = new Drops({
      most_bytes: () => this.prop.most_bytes, placed: (csv) => this.place.placed(csv), took: (prop, clip) => this.took(prop, clip),
      laid: () => { this.modes.enter('place'); byId('lamp-files').open = true; } });
  }

  async open() {
    await trying(async () => this.take(await get('/api/prop')));
    await trying(() => this.describe());
    onChanges((change) => trying(() => this.changed(change)));
    requestAnimationFrame(() => this.drawFrame());
    document.body.classList.toggle('alone', isAlone);
    if (isAlone) return;
    await trying(() => this.sending.show());
    await trying(() => this.clips.advice.recall());
  }

  /** Once all that was turned and moved has been answered. */
  settled() {
    return this.orders.settled();
  }

  /** A prop as the server has it: shown, and its table played. */
  async take(prop) {
    if (!this.settings.complete(prop)) this.settings.complete(Object.assign(prop, await get('/api/prop'), { table: undefined }));
    if (prop.revision < this.revision) return;
    const isSame = prop.revision === this.revision && !this.isTableMissing;
    this.revision = prop.revision;
    await trying(() => this.photo(prop));
    if (prop.revision < this.revision) return;
    const played = isSame ? undefined : this.play(prop, tableOf(prop, this.table));
    // What is there is heard before it is shown, which takes longer.
    if (prop.table) await played?.catch(() => {});
    // An answer to an earlier edit must not take back what has been turned since.
    if (!this.orders.areWaiting) this.show(prop);
    await played;
    if (prop.revision < this.revision) return;
    if (!isAlone && !this.orders.areWaiting) this.clips.show(prop);
    if (isSame) return;
    this.paces.doubt();
    clearTimeout(this.later);
    this.later = setTimeout(() => trying(() => this.workOut(prop.revision)), NUMBERS_AFTER_MS);
  }

  /** What follows from a revision, unless another one is on its way, which is to be heard first. */
  async workOut(revision) {
    await this.orders.settled();
    if (revision !== this.revision) return;
    await this.describe();
    await this.figures();
  }

  /** After a file was taken in. clip: a new one, to be looked at. */
  async took(prop, clip) {
    await this.take(prop);
    this.clips.choose(clip);
  }

  async photo({ picture, revision }) {
    if (this.photoOf === picture.file) return;
    const image = picture.image ? await createImageBitmap(new Blob([(await getBytes(picture.image)).bytes])) : null;
    if (revision < this.revision) return;
    this.photoImage = image;
    this.photoOf = picture.file;
  }

  show(prop) {
    const focused = /** @type {any} */ (document.activeElement);
    this.prop = prop;
    byId('bench').inert = false; // what is there can be turned from now on
    document.title = `${prop.title}: bench`;
    byId('title').textContent = prop.title;
    byId('file').textContent = prop.file;
    byId('saved').textContent = !prop.dirty ? 'saved' : prop.is_kept ? 'not saved' : 'not saved, and not kept for the next start';
    byId('found').hidden = !prop.found;
    if (prop.found) byId('found-at').textContent = prop.found.at;
    byId('found-older').hidden = !prop.found?.is_older;
    byId('undo').disabled = !prop.can_undo;
    byId('redo').disabled = !prop.can_redo;
    byId('save').disabled = !prop.dirty;
    byId('outside').hidden = !prop.changed_outside;
    byId('difference').open &&= prop.changed_outside;
    this.paces.show(prop);
    this.presses.show(byId('presses'), prop);
    this.showPicture(prop);
    this.strip.show(prop);
    this.settings.show(prop.settings);
    this.fades.show(prop);
    this.place?.show(prop, this.photoImage);
    this.others.show(prop);
    trying(() => this.build?.show(prop));
    if (focused !== document.body) keepFocus(...[focused.id, 'undo', 'redo', 'save', 'bench'].map(byId));
  }

  showPicture(prop) {
    const laid = JSON.stringify([prop.picture, prop.lamps, this.photoOf]);
    if (laid === this.laid) return;
    this.laid = laid;
    byId('picture').setAttribute('aria-label', `${prop.title} with ${prop.lamps.length} lamps in ${prop.groups.length} groups`);
    this.picture.show(prop, this.photoImage);
  }

  /** isUnderHand: in place of another one, so that what is held is not pressed again. state: what is pressed and turned, if not by the hand. */
  /** @param {any} [state] */
  async play(prop, table, isUnderHand = true, state = this.presses.state(prop.names)) {
    this.isTableMissing = false;
    try {
      const [{ bytes, revision }] = await Promise.all([table, this.board.open(prop.board.sample_rate_hz)]);
      if (revision < this.played) return; // a later one has come before it
      this.played = revision;
      this.table = { bytes, revision };
      this.names = prop.names;
      clearTimeout(this.auditioned);
      await this.board.start(bytes, revision, prop.meters, { inputs: prop.names.inputs, ...state, isUnderHand });
    } catch (error) {
      this.isTableMissing = true;
      throw error;
    }
  }

  /** Plays one effect under a button of its own, and then the prop's table again. */
  async hear(effect) {
    await this.settled();
    const { table, revision, names, effects, button, hold_frames, lasts_s } = await post(`/api/effects/${encodeURIComponent(effect)}`);
    if (revision !== this.revision) return;
    this.board.resume();
    this.names = { ...this.prop.names, ...names, effects };
    this.board.start(bytesOf(table), revision, this.prop.meters, { ...this.presses.state(names), isUnderHand: true });
    this.board.hold(button, hold_frames);
    clearTimeout(this.auditioned);
    this.auditioned = setTimeout(() => trying(() => this.play(this.prop, getBytes('/api/table'))), lasts_s * 1000);
  }

  /** Plays a press script from power-up, and then the prop as it is under the hand. */
  async playScript({ events, until_frame }) {
    await this.settled();
    this.board.resume();
    await this.play(this.prop, getBytes('/api/table'), false, { closed: 0, positions: [] });
    this.board.follow(events);
    const { samples_per_frame, sample_rate_hz } = this.prop.board;
    this.auditioned = setTimeout(() => trying(() => this.play(this.prop, getBytes('/api/table'), false)), 1000 * until_frame * samples_per_frame / sample_rate_hz);
  }

  async figures() {
    byId('figures').setAttribute('aria-busy', 'true');
    const asked = this.figuresAsked = get('/api/numbers');
    try {
      const figures = await asked;
      if (asked !== this.figuresAsked) return;
      showFigures(byId('figures'), figures, { searching: this.rates.element, again: this.ratesAgain });
      showFindings(byId('findings'), figures.findings);
      byId('of-script').textContent = `${scriptInWords(figures.script)}.`;
      if (figures.revision === this.revision) this.paces.mark({ ...figures, rates_known: figures.rates_known || figures.rates_given_up });
    } catch (error) {
      this.paces.mark({ rates: [], rates_known: true });
      throw error;
    } finally {
      if (asked === this.figuresAsked) byId('figures').setAttribute('aria-busy', 'false');
    }
  }

  /** What the server tells of itself, of other tabs, and of the file. */
  async changed({ revision, dirty, numbers, work, rates, changed_outside: changedOutside, connected, found }) {
    this.work.heed(work);
    if (work === null && !this.work.what) await this.clips.advice.recall();
    if (connected !== undefined) byId('offline').hidden = connected;
    if (rates) return this.rates.show(rates.done, rates.words);
    if (numbers !== undefined) return this.figures();
    // What this page has done itself comes as an answer, too, and mostly a little later.
    if (revision !== undefined) await new Promise((done) => setTimeout(done, ANSWER_WITHIN_MS));
    const isOther = revision > this.revision || (revision === this.revision && (this.isTableMissing || dirty !== this.prop?.dirty));
    const isOutside = changedOutside !== undefined && changedOutside !== this.prop?.changed_outside;
    const isNew = isOther || isOutside || found === null || (connected && this.wasOff);
    if (connected !== undefined) this.wasOff = !connected;
    return isNew ? this.take(await get('/api/prop')) : undefined;
  }

  heed(report) {
    if (report.fault) say(report.fault, true);
    if (report.state) byId('asleep').hidden = report.state === 'running';
    if (report.state === 'running') byId('delay').textContent = `${this.board.delay_ms.toFixed(0)} ms`;
    if (report.started !== undefined) this.strip.startAnew();
    this.others.heed(report);
    if (this.prop) this.build?.heed(report, KINDS, this.names);
    if (!report.shares) return;
    this.shares = report.shares;
    this.strip.write(report, report.samples / this.board.context.sampleRate);
    this.events.push(...report.trace);
    this.listening.follow(report.trace, this.prop.names, (clip) => this.gain_db(clip));
    if (report.gaps) write('gaps', `The sound has dropped out ${report.gaps === 1 ? 'once' : `${report.gaps} times`}`);
  }

  /** Of the sound of that clip in the effect that was started last and has it. */
  gain_db(clip) {
    const effects = this.events.filter(({ kind }) => KINDS[kind] === 'effect').map(({ index }) => this.prop.sounds[this.prop.names.effects[index]]);
    return effects.flat().findLast((sound) => sound?.clip === clip)?.gain_db ?? 0;
  }

  drawFrame() {
    requestAnimationFrame(() => this.drawFrame());
    if (this.shares) this.picture.light(this.shares, performance.now() / 1000);
    if (byId('in-words').open) this.showInWords();
    if (this.events.length > 10 * EVENTS_SHOWN) this.events.splice(0, this.events.length - EVENTS_SHOWN);
  }

  showInWords() {
    const { current, level } = this.strip.highest;
    write('highest', `Highest of the last ${SPAN_S} seconds: ${current}${level ? `, ${level} at the hand` : ''}.`);
    const latest = this.events.slice(-EVENTS_SHOWN);
    if (!latest.length || latest.at(-1) === this.latest) return;
    this.latest = latest.at(-1);
    byId('happened').replaceChildren(...latest.reverse().map((event) => make('li', {}, this.inWords(event))));
  }

  inWords({ frame, kind, index, value }) {
    const { names, board } = this.prop;
    const of = {
      press: [names.inputs], release: [names.inputs], select: [names.selectors], count: [names.counters], refused: [names.effects],
      start: [names.triggers], stop: [names.triggers], shot: [names.triggers], empty: [names.triggers], effect: [names.effects, names.triggers],
      sound: [null, names.clips], cut: [null, names.clips], released: [null, names.clips], fade: [names.groups, names.fades],
    }[KINDS[kind]] || [];
    const words = [of[0]?.[index], of[1]?.[value] ?? (['count', 'volume', 'select'].includes(KINDS[kind]) ? value : undefined)];
    const seconds = frame * board.samples_per_frame / board.sample_rate_hz;
    return `${seconds.toFixed(2)} s  ${spoken(KINDS[kind])}: ${words.filter((word) => word !== undefined).join(', ')}`;
  }

  sayGentle(isGentle) {
    byId('gentle').hidden = !isGentle;
  }

  /** A step of the whole prop, after all that is under way. */
  step(path, done, order = {}) {
    return trying(async () => {
      await this.orders.ask(path, order);
      say(done);
    });
  }

  buttons() {
    const steps = {
      undo: ['/api/undo', 'Undone.'], redo: ['/api/redo', 'Redone.'], save: ['/api/save', 'Saved.'],
      reload: ['/api/reload', 'Read again from the file.'], 'keep-mine': ['/api/save', 'Saved, in place of what the other program wrote.', { over: true }],
      'found-take': ['/api/unsaved', 'Your edits are restored as one step.', { take: true }],
      'found-drop': ['/api/unsaved', 'Those edits are discarded.', { take: false }],
    };
    for (const [id, [path, done, order]] of Object.entries(steps)) byId(id).addEventListener('click', () => this.step(path, done, order));
    addEventListener('keydown', (event) => isAlone || shortcut(event, this.orders, (id) => this.step(...steps[id])));
    byId('keep-script').addEventListener('click', () => trying(() => this.keepScript()));
    byId('save-as').addEventListener('click', () => trying(() => this.build.saveCopy()));
    byId('difference').addEventListener('toggle', () => trying(() => this.showDifference()));
    byId('restart').addEventListener('click', () => trying(() => this.play(this.prop, getBytes('/api/table'), false)));
    byId('wake').addEventListener('click', () => this.board.resume());
    byId('guard').addEventListener('change', ({ target }) => this.picture.setGuard(target.checked));
    byId('matched').addEventListener('change', ({ target }) => this.listening.match(target.checked));
    byId('level').addEventListener('input', ({ target }) => {
      this.listening.setLevel(target.value / 100);
      byId('level-shown').textContent = `${target.value} %`;
    });
  }

  /** What was pressed since power-up as a press script of the file. */
  async keepScript() {
    const kept = await keepPresses(this.others.pressedNow, this.prop.scripts, () => this.settled());
    if (kept) await this.take(kept);
  }

  async showDifference() {
    if (!byId('difference').open) return;
    const { lines } = await get('/api/difference');
    const kinds = { '-': ['del', 'Theirs: '], '+': ['ins', 'Yours: '] };
    byId('difference').querySelector('pre').replaceChildren(...lines.map((line) => {
      const [tag, whose] = kinds[line[0]] || ['span', ''];
      return make(tag, {}, whose && make('span', { class: 'unseen' }, whose), `${line}\n`);
    }));
  }

  /** What amplifier and speaker do by now. */
  async describe() {
    await this.listening.describe();
    if (this.listening.way === 'recorded') await this.listening.load(this.prop.clips);
    if (!this.listening.ways.includes(this.listening.way)) this.listening.choose('board');
    this.showWays();
  }

  showWays() {
    const shown = this.listening.ways.join();
    if (shown === this.waysShown) return;
    this.waysShown = shown;
    byId('ways').replaceChildren(make('legend', {}, 'Listen to'), ...this.listening.ways.map((way) => {
      const choice = make('input', { type: 'radio', name: 'way', value: way, checked: way === this.listening.way });
      choice.addEventListener('change', () => trying(async () => {
        this.listening.choose(way);
        if (way === 'recorded') await this.listening.load(this.prop.clips);
      }));
      return make('label', { class: 'tick' }, choice, make('span', {}, WAYS[way]));
    }));
  }
}

/** A text where it is not there yet: the page is laid out anew for each one that is written. */
function write(id, text) {
  if (byId(id).textContent !== text) byId(id).textContent = text;
}

/** Ctrl+Z, Ctrl+Shift+Z and Ctrl+S. What is being typed is taken before it is saved, and has its own way back. What is on its way can be undone. */
function shortcut(event, orders, step) {
  const id = { z: event.shiftKey ? 'redo' : 'undo', s: 'save' }[event.key.toLowerCase()];
  const isTyping = event.target instanceof Element && event.target.matches('input:not([type=range]):not([type=checkbox]):not([type=radio]), textarea');
  if (!id || event.altKey || !(event.ctrlKey || event.metaKey) || document.querySelector('dialog[open]')) return;
  if (isTyping && id !== 'save') return;
  event.preventDefault();
  if (isTyping) {
    event.target.blur();
    event.target.focus();
  }
  if (id === 'save' || orders.isSending || !byId(id).disabled) step(id);
}

trying(() => new Bench().open());
