/** What was pressed in play becomes a press script of the file. */

import { post } from './api.js';
import { ask } from './ask.js';
import { nameOf } from './form.js';
import { spoken } from './make.js';
import { say } from './say.js';

const NEW = '';

/** Asks for a name, and gives the prop with the script in it; null where it was left. pressed: as others.js has it. scripts: their names. */
export async function keepPresses(pressed, scripts, settled) {
  const places = [{ value: NEW, label: 'a new press script' }, ...scripts.map((name) => ({ value: name, label: `in place of ${spoken(name)}` }))];
  const words = 'Taps, holds and turns since power-up, each at its time. Waiting before the first press is left out.';
  const fields = [{ name: 'place', label: 'Keep it as', choices: places, value: NEW }, { name: 'name', label: 'Name of a new one', value: freeName(scripts) }];
  const answer = await ask('Keep what was pressed', [words], fields, [{ act: 'keep', label: 'Keep it' }]);
  if (!answer) return null;
  await settled();
  const name = answer.place || nameOf(answer.name);
  const prop = await post('/api/parts', { do: 'record', name, ...pressed });
  say(`Kept as ${spoken(name)}, which stands in Build it under Press scripts.`);
  return prop;
}

function freeName(scripts) {
  let name = 'presses';
  for (let count = 2; scripts.includes(name); count++) name = `presses_${count}`;
  return name.replaceAll('_', ' ');
}
