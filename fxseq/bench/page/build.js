/** Building the prop: all its parts by kind, and a form for the one that is looked at. */

import { get, post } from './api.js';
import { ask } from './ask.js';
import { EffectStrip } from './effect_strip.js';
import { FadeStrip } from './fade_strip.js';
import { Form, act, idOf, nameOf, small } from './form.js';
import { Hand } from './hand.js';
import { byId, make, named, spoken } from './make.js';
import { renew } from './renew.js';
import { say, trying } from './say.js';
import { ScriptStrip } from './script_strip.js';
import { Running, Sentences } from './sentences.js';
import { newGesture } from './turn.js';
import { Wiring } from './wiring.js';

const NONE = '';
/** What is looked at, where it is no part of the file but what follows from all of them. */
const WIRING = 'wiring';
/** Narrower pages have one column (style.css). */
const NARROW_PX = 700;
/** Modes that go on while something is held, or until power-down. */
const STAYING = ['while_held', 'on_off', 'always'];

export class Build {
  /**
   * places: {say, list, form, lamps, plan}. settled(): once what was turned has been answered. take(files): as everywhere.
   * paceOf(trigger): the control of its rate. edits: the line of orders. hear(effect): plays it alone. play(script): plays what /api/scripts
   * says. looks(kind, name): another thing is looked at. replace(clip, file). enter(mode): of the page.
   */
  constructor(places, { settled, take, paceOf, edits, hear, play, looks, replace, enter }) {
    this.paceOf = paceOf;
    this.edits = edits;
    this.hear = hear;
    this.play = play;
    this.goTo = enter;
    this.places = places;
    this.hand = new Hand(Object.values(places));
    /** Where lamps are placed (place.js). @type {any} */
    this.place = null;
    /** Strips of time, made once forms are known. @type {any} */
    this.effectStrip = null;
    /** @type {any} */
    this.fadeStrip = null;
    /** @type {any} */
    this.scriptStrip = null;
    this.settled = settled;
    this.looks = looks;
    this.replace = replace;
    this.takeFiles = take;
    /** What is looked at: {kind, name}. @type {any} */
    this.chosen = null;
    this.form = this.sentences = null;
    /** What /api/parts said last, and the same with what is on its way. @type {any} */
    this.answer = null;
    /** @type {any} */
    this.parts = null;
    /** What was refused last, for as long as nothing else is done: {ids, control, words}. @type {any} */
    this.refused = null;
    this.folded = new Set();
    this.running = new Running();
    this.wiring = new Wiring();
    this.onTheWay = 0;
    this.newest = 0; // revision of the prop that is shown elsewhere on the page
    this.file = make('input', { type: 'file', accept: 'audio/*', multiple: true, hidden: true, 'aria-label': 'Recordings' });
    this.file.addEventListener('change', async () => {
      await this.takeFiles([...this.file.files]);
      this.file.value = '';
    });
  }

  /** mode: of the page. The parts are also behind the form of a group in the mode in which lamps are placed. */
  enter(mode) {
    this.mode = mode;
    if (mode !== 'build') this.looks('', NONE);
    if (!this.isOpen) return;
    if (this.parts) this.draw();
    trying(() => this.refresh());
  }

  get isOpen() {
    return this.mode === 'build' || this.isPlacing;
  }

  get isPlacing() {
    return this.mode === 'place';
  }

  /** Where the form of what is looked at stands. */
  get formPlace() {
    return this.isPlacing ? this.places.lamps : this.places.form;
  }

  /** Goes to a thing, from another mode of the page. */
  async visit(kind, name) {
    this.goTo('build');
    await trying(async () => {
      await this.refresh();
      this.look(kind, name);
      this.places.form.querySelector('h2').scrollIntoView({ block: 'start' });
    });
  }

  /** After a change of the prop. */
  async show({ revision }) {
    this.newest = revision;
    if (!this.isOpen || revision === this.parts?.revision) return;
    if (this.askedFor !== revision) this.asked = this.refresh().finally(() => { this.askedFor = undefined; });
    this.askedFor = revision;
    await this.asked;
  }

  /** Follows what the player tells. */
  heed({ started, trace }, kinds, names) {
    if (started !== undefined) this.running.powerUp();
    const now_ms = performance.now();
    const effects = (trace || []).filter(({ kind }) => kinds[kind] === 'effect').map(({ index }) => names.effects[index]);
    if (this.isOpen && this.chosen?.kind === 'effects' && effects.includes(this.chosen.name)) this.effectStrip.run();
    this.running.heed((trace || []).map((event) => ({ ...event, kind: kinds[event.kind] })), names, now_ms);
    if (this.isOpen) this.sentences?.light(this.running.names(now_ms));
  }

  /** Shows what holds, in place of what was turned and refused. */
  again() {
    if (this.isOpen) this.putOff();
  }

  async refresh() {
    this.busy(1);
    try {
      const [forms, parts] = await Promise.all([this.forms || get('/api/forms'), get('/api/parts')]);
      this.takeUp(forms, parts);
    } finally {
      this.busy(-1);
    }
  }

  takeUp(forms, parts) {
    if (parts.revision < Math.max(this.newest, this.parts?.revision ?? 0)) return; // a newer one is there, or asked for
    if (this.parts && (this.edits.isSending || this.hand.isDown)) {
      this.putOff();
      return;
    }
    if (!this.forms && innerWidth < NARROW_PX) this.foldAll(forms);
    this.forms = forms;
    this.form ||= new Form(forms, this.change.bind(this));
    this.makeStrips();
    this.sentences ||= new Sentences(this.places.say, this.form, { look: (kind, name) => this.look(kind, name), fresh: () => this.begin(this.form.kind('triggers')),
      paceOf: this.paceOf });
    this.answer = parts;
    this.edits.renamed = [];
    this.draw();
  }

  /** What a hand has turned since is newer than the answer, and what it is on stays as it is. */
  async putOff() {
    this.busy(1);
    await this.hand.putOff(this.edits, () => trying(() => this.refresh()));
    this.busy(-1);
  }

  /** Strips of time stay while all around them is drawn anew: a hand may be on them. */
  makeStrips() {
    if (this.effectStrip) return;
    const build = { form: this.form, edits: this.edits, hear: this.hear, play: this.play, dropped: () => this.putOff(),
      usesOf: (fade) => this.usesOf(fade) };
    this.effectStrip = new EffectStrip(build);
    this.fadeStrip = new FadeStrip(this.edits, build);
    this.scriptStrip = new ScriptStrip(build);
  }

  /** Where effects use a fade: {effect, at: of its lights, group}. */
  usesOf(name) {
    return Object.entries(this.parts.values.effects || {})
      .flatMap(([effect, { lights = [] }]) => lights.map((light, at) => ({ effect, at, ...light }))).filter(({ fade }) => fade === name);
  }

  /** Where the form comes below the list, that has to be short. */
  foldAll({ themes }) {
    for (const { kind } of themes.flatMap(({ kinds }) => kinds)) this.folded.add(kind);
  }

  /** The thing that was looked at may be gone, and what was wanted may have come, which is given then. */
  follow() {
    const { values } = this.parts, come = this.welcome(values);
    if (this.chosen?.name && !(this.chosen.name in (values[this.chosen.kind] || {}))) this.chosen = null;
    if (this.isPlacing && !(this.chosen?.kind === 'groups' && this.chosen.name)) this.choose('groups', Object.keys(values.groups || {})[0]);
    if (!this.chosen || (!this.isPlacing && this.chosen.kind === 'groups' && !this.chosen.name)) {
      const [name] = Object.keys(values.triggers || {});
      this.choose(name ? 'triggers' : 'title', name);
    }
    return come;
  }

  /** Looks at what was to be made, or to be called so, once it is there; answers to earlier changes may come before it. */
  welcome(values) {
    if (!this.wanted) return null;
    const { kind, before, isSingle } = this.wanted, come = this.wanted;
    const name = isSingle ? NONE : Object.keys(values[kind] || {}).find((one) => !before.includes(one));
    if (name === undefined || values[kind] === undefined) return null;
    this.choose(kind, name);
    this.wanted = null;
    return come;
  }

  choose(kind, name = NONE) {
    if (this.chosen?.kind !== kind || this.chosen.name !== name) {
      this.form.reset();
      this.refused = null;
    }
    this.chosen = { kind, name };
  }

  /** Shows a thing, and goes to its form; beside the picture of the lamps it is in sight already. */
  look(kind, name = NONE) {
    this.wanted = null;
    this.choose(kind, name);
    this.draw();
    if (!this.isPlacing) this.goToForm();
  }

  goToForm() {
    const title = this.formPlace.querySelector('h2[tabindex]');
    title.focus({ preventScroll: true });
    title.scrollIntoView({ block: 'nearest' });
  }

  /** Goes to the form of what has just been made, unless a hand is elsewhere by now. from: id of what it was on. */
  lead({ from }) {
    const { activeElement } = document, isStill = activeElement === document.body || activeElement?.id === from;
    if (isStill && !this.formPlace.contains(activeElement)) this.goToForm();
  }

  /** Draws all anew, with what is on its way; what has the focus keeps it, with what was typed there since. */
  draw() {
    /** @type {any} */
    const focused = document.activeElement;
    this.parts = { ...this.answer, values: this.edits.laidOver(this.answer.values) };
    this.form.take(this.parts);
    const come = this.follow(), id = focused?.id ?? '';
    this.drawAround(focused, come?.old ? id.replace(idOf(come.old), idOf([this.chosen.kind, this.chosen.name])) : id);
    this.tell();
    if (come) this.lead(come);
  }

  /** id: that what has the focus has then. */
  drawAround(focused, id) {
    const { value, dataset } = focused || {}, isTyping = dataset?.shown !== undefined && dataset.shown !== value;
    this.form.isDrawing = true;
    try {
      if (this.isPlacing) this.drawGroup();
      else this.drawAll();
    } finally {
      this.form.isDrawing = false;
    }
    const again = id && byId(id);
    if (!again || again === document.activeElement) return;
    if (isTyping) again.value = value;
    again.focus({ preventScroll: true });
  }

  drawAll() {
    this.place.clear();
    this.sentences.show(this.parts);
    this.places.list.replaceChildren(...this.forms.themes.map((theme) => this.theme(theme)),
      make('section', { class: 'theme' }, make('h3', {}, 'To solder'), this.entry({ kind: WIRING }, NONE, 'Wiring sheet')),
      act('Save a copy …', () => trying(() => this.saveCopy()), 'save-copy'), this.file);
    renew(this.places.form, ...this.thing());
    this.looks(this.chosen.kind, this.chosen.name);
  }

  /** Only what is seen is drawn: no control is there twice. */
  drawGroup() {
    for (const place of [this.places.say, this.places.list, this.places.form]) place.replaceChildren();
    this.place.showForm(this.form, this.parts);
  }

  theme({ label, kinds }) {
    return make('section', { class: 'theme' }, make('h3', {}, label), ...kinds.map((kind) => (kind.is_named ? this.named(kind) : this.single(kind))));
  }

  named(kind) {
    const names = Object.keys(this.parts.values[kind.kind] || {});
    const isOpen = !this.folded.has(kind.kind);
    const fold = make('details', { open: isOpen }, make('summary', {}, `${kind.label} `, make('span', { class: 'small' }, String(names.length))),
      make('div', { class: 'things' }, ...names.map((name) => this.entry(kind, name, spoken(name))),
        act(`New ${kind.one}`, () => this.begin(kind), `new-${kind.kind}`)));
    fold.addEventListener('toggle', () => this.folded[fold.open ? 'delete' : 'add'](kind.kind));
    return fold;
  }

  single(kind) {
    const isThere = this.parts.values[kind.kind] !== undefined;
    if (isThere || !kind.table) return this.entry(kind, NONE, kind.label);
    const add = () => (kind.common.length ? this.begin(kind) : this.add(kind, NONE));
    return act(`Say more: ${small(kind.label)}`, add, `new-${kind.kind}`);
  }

  entry({ kind }, name, label) {
    const isChosen = this.chosen.kind === kind && this.chosen.name === name;
    const entry = act(label, () => this.look(kind, name), `thing-${kind}-${name}`);
    entry.className = 'thing';
    if (isChosen) entry.setAttribute('aria-current', 'true');
    return entry;
  }

  /** The prop under another name, beside this one, which goes on being edited. */
  async saveCopy() {
    const answer = await ask('Save a copy of this prop', ['It lies beside this one, with the same sounds. This one stays open.'],
      [{ name: 'name', label: 'Name', value: '' }], [{ act: 'copy', label: 'Save it' }]);
    if (!answer) return;
    await this.settled();
    const { file } = await post('/api/copy', { name: answer.name });
    say(`Saved a copy as ${file}.`);
  }

  /** The form of what is looked at. */
  thing() {
    if (this.chosen.kind === WIRING) return this.wiring.drawn(this.parts.revision);
    const { kind, name } = this.chosen, about = this.form.kind(kind);
    const title = make('h2', { tabIndex: -1 }, name ? spoken(name) : about.label);
    const sub = make('p', { class: 'small' }, about.table ? this.forms.tables[about.table].means : about.means);
    if (!about.table) return [title, this.form.field(this.topField(kind), [kind])];
    const path = name ? [kind, name] : [kind];
    const head = name ? this.head(about, name) : this.plainHead(about, path);
    const common = about.common.length ? [this.common(about, name)] : [];
    return [title, sub, head, ...common, ...this.strip(kind, name), ...this.form.fieldsOf(about.table, path)];
  }

  strip(kind, name) {
    if (kind === 'effects') this.effectStrip.show(name);
    else if (kind === 'fades') this.fadeStrip.show(name, this.parts.values.fades[name]);
    else if (kind === 'scripts') this.scriptStrip.show(name);
    return { effects: [this.effectStrip.element], fades: [this.fadeStrip.element], scripts: [this.scriptStrip.element] }[kind] || [];
  }

  topField(kind) {
    return this.forms.tables.Sequence.fields.find(({ key }) => key === kind);
  }

  /** A menu of common parts, for whoever has no data sheet, and where the figures of the chosen one come from. */
  common({ kind, common }, name) {
    const taken = name ? this.parts.common[kind][name] : this.parts.common[kind], id = `${idOf([kind])}-common`;
    const own = taken === null ? [make('option', { value: NONE, selected: true }, 'one with figures of its own')] : [];
    const menu = make('select', { id, 'aria-describedby': `${id}-means` }, ...own, ...commonOptions(common, taken));
    menu.addEventListener('change', () => menu.value !== NONE
      && this.change(name ? [kind, name] : [kind], [], { do: 'take', kind, name, common: Number(menu.value) }));
    const source = taken === null ? '' : `Its figures: ${common[taken].source}.`;
    return make('div', { class: 'part-field' }, make('label', { htmlFor: id }, 'Common parts'), make('div', { class: 'said' }, menu),
      make('p', { class: 'small', id: `${id}-means` }, `What you do not know, leave open: beside each field stands what is then assumed. ${source}`));
  }

  head(about, name) {
    const names = Object.keys(this.parts.values[about.kind]), place = names.indexOf(name), id = idOf([about.kind, name]);
    const box = make('input', { type: 'text', id: `${id}-name`, value: name.replaceAll('_', ' '), autocomplete: 'off' });
    this.form.onEntry(box, () => this.rename(about, name, nameOf(box.value)));
    const order = (more) => this.change([about.kind, name], [], { kind: about.kind, name, ...more });
    return make('div', { class: 'head' },
      make('div', { class: 'part-field' }, make('label', { htmlFor: box.id }, 'Name'), box, make('p', { class: 'fault', id: `${id}-fault`, role: 'alert' })),
      make('div', { class: 'row' },
        act('Copy', () => this.make(about.kind, { do: 'copy', kind: about.kind, name }), `${id}-copy`),
        ...(place > 0 ? [act('Earlier', () => order({ do: 'move', by: -1 }), `${id}-earlier`)] : []),
        ...(place < names.length - 1 ? [act('Later', () => order({ do: 'move', by: 1 }), `${id}-later`)] : []),
        act('Delete …', () => trying(() => this.remove(about, name)), `${id}-delete`)),
      ...(about.kind === 'clips' ? [this.otherFile(name, id)] : []));
  }

  /** Another recording for a clip. */
  otherFile(name, id) {
    const file = make('input', { type: 'file', accept: 'audio/*', id: `${id}-other` });
    file.addEventListener('change', () => trying(() => this.replace(name, file.files[0])));
    return make('div', { class: 'row' }, make('label', { htmlFor: file.id }, 'Put another recording in its place'), file);
  }

  plainHead(about, path) {
    const { is_required: isRequired } = this.topField(about.kind);
    const fault = make('p', { class: 'fault', id: `${idOf(path)}-fault`, role: 'alert' });
    if (isRequired || this.parts.values[about.kind] === undefined) return fault;
    const out = () => { this.chosen = null; this.change(path, [{ path, value: null }]); };
    return make('div', { class: 'row' }, act(`Take out: ${small(about.label)}`, out, `${idOf(path)}-out`), fault);
  }

  async rename({ kind }, name, fresh) {
    if (fresh === name) return this.draw();
    return this.make(kind, { do: 'rename', kind, name, new: fresh }, false, [kind, name], [kind, name]);
  }

  /** Deletes a thing; what is used says where, and asks what to do. */
  async remove({ kind, one }, shown) {
    await this.settled();
    const { name } = this.edits.inNewNames({ kind, name: shown });
    const { uses, goes } = await post('/api/uses', { kind, name });
    const others = Object.keys(this.parts.values[kind] || {}).filter((other) => other !== name);
    const answer = uses.length ? await this.askAbout({ kind, one }, name, uses, goes, others) : { act: 'out' };
    if (!answer) return;
    const instead = answer.act === 'instead' ? { instead: answer.instead } : {};
    await this.change([kind, name], [], { do: 'delete', kind, name, ...instead });
    say(`${spoken(name)} is deleted. Undo brings it back.`);
  }

  askAbout({ kind, one }, name, uses, goes, others) {
    const words = [named(`It is used in: ${uses.join('; ')}.`)];
    if (goes.length) words.push(`Without it, these triggers could not be, and go too: ${goes.map((each) => spoken(each)).join(', ')}.`);
    const canStand = others.length > 0 && kind !== 'selectors';
    const choices = others.map((other) => ({ value: other, label: spoken(other) }));
    return ask(`Delete the ${one} ${spoken(name)}?`, words, canStand ? [{ name: 'instead', label: 'Use in its place', choices, value: others[0] }] : [],
      [...(canStand ? [{ act: 'instead', label: 'Put the other one in its place' }] : []), { act: 'out', label: 'Take it out there, too' }]);
  }

  /** A new thing of a kind: asks for what it cannot be without. */
  async begin(kind) {
    if (kind.kind === 'clips') return this.file.click();
    const { name } = kind.is_named ? this.form.fresh(kind.kind) : { name: NONE };
    const fields = [...(kind.is_named ? [{ name: 'name', label: 'Name', value: name.replaceAll('_', ' ') }] : []), ...(kind.kind === 'triggers' ? this.triggerFields() : []),
      ...(kind.common.length ? [{ name: 'common', label: 'Which one', choices: commonChoices(kind.common) }] : [])];
    const answer = await ask(kind.is_named ? `A new ${kind.one}` : kind.label, [], fields, [{ act: 'add', label: 'Make it' }]);
    return answer && this.add(kind, nameOf(answer.name || NONE), kind.kind === 'triggers' ? this.triggerOf(answer) : {}, answer.common);
  }

  triggerFields() {
    const [mode] = this.forms.tables.Trigger.fields.find(({ key }) => key === 'mode').takes;
    const menu = (kind) => [...Object.keys(this.parts.values[kind] || {}).map((name) => ({ value: name, label: spoken(name) })),
      { value: NONE, label: `a new ${this.form.fresh(kind).one}` }];
    return [{ name: 'input', label: 'Pressed by', choices: menu('inputs') }, { name: 'mode', label: 'What a press does', choices: mode.choices, value: 'once' },
      { name: 'effect', label: 'Effect', choices: menu('effects') }];
  }

  triggerOf({ input, mode, effect }) {
    const played = effect || this.form.fresh('effects').name;
    const pressed = mode === 'always' ? {} : { input: input || this.form.fresh('inputs').name };
    if (STAYING.includes(mode)) return { mode, ...pressed, during: played };
    return { mode, ...pressed, ...(mode === 'repeat' ? { rate_per_s: 2 } : {}), effects: [played] };
  }

  /** given: keys that are said from the start, beside the least that it needs. common: instead, a turn among the common parts of the kind. */
  add(kind, name, given = {}, common = undefined) {
    const what = common === undefined ? { given } : { common: Number(common) };
    return this.make(kind.kind, { do: 'add', kind: kind.kind, name, ...what }, !kind.is_named);
  }

  /**
   * An order by which there is a thing of a new name, which is looked at then. place: where a refusal is said. old: what is called otherwise then.
   * @param {any} [old]
   */
  make(kind, order, isSingle = false, place = [kind], old = undefined) {
    this.wanted = { kind, before: Object.keys(this.parts.values[kind] || {}), isSingle, old, from: document.activeElement?.id };
    return this.change(place, [], order, '', () => { this.wanted = null; });
  }

  /**
   * True once it is taken, and shown. What is refused is said at its place, and nothing changes.
   * @param {any[]} path @param {any[]} changes @param {any} order
   */
  change(path, changes, order = null, words = '', failed = () => {}) {
    if (words) return Promise.resolve(this.refuse(path, words));
    const body = order || { do: 'set', changes, gesture: newGesture() };
    this.refused = null;
    this.busy(1);
    return this.send(path, body, { changes, gesture: body.gesture }, failed).finally(() => this.busy(-1));
  }

  /** Counts changes on their way, and what is about to be drawn anew. */
  busy(by) {
    this.onTheWay += by;
    this.places.form.setAttribute('aria-busy', String(this.onTheWay > 0));
  }

  async send(path, body, about, failed) {
    try {
      await this.show(await this.edits.ask('/api/parts', body, about));
      return true;
    } catch (error) {
      failed();
      if (!this.hand.isDown) this.draw();
      return this.refuse(path, error.message);
    }
  }

  refuse(path, words) {
    const inSentence = this.places.say.contains(document.activeElement) ? [`say-fault-${path[1]}`] : [];
    const inForm = path.map((_, at) => `${idOf(path.slice(0, path.length - at))}-fault`);
    return this.refuseAt([...inSentence, ...inForm], words, idOf(path));
  }

  /** Says what was refused at the first of these places that there is. @returns {boolean} false */
  refuseAt(ids, words, control = '') {
    this.refused = { ids, words: `${words} Nothing was changed.`, control };
    if (!this.tell()) say(words, true);
    return false;
  }

  /** Whether what was refused stands beside its control. */
  tell() {
    const place = this.refused?.ids.map(byId).find(Boolean);
    if (!place) return false;
    place.textContent = this.refused.words;
    byId(this.refused.control)?.setAttribute('aria-invalid', 'true');
    return true;
  }
}


/** Choices of common parts; whoever does not know takes the usual one. */
function commonChoices(common) {
  const known = common.map(({ label }, turn) => ({ value: String(turn), label }));
  return [...known, { value: '0', label: `I do not know: ${common[0].label}` }];
}

function commonOptions(common, taken) {
  return commonChoices(common).map(({ value, label }, turn) => make('option', { value, selected: turn === taken }, label));
}
