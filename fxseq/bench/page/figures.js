/** Key numbers and findings of the file's own press script, as the server works them out. */

import { byId, capital, focusedIn, make, named, number, spoken } from './make.js';

/** Shows what /api/numbers tells. searching: what stands for rates that are being looked for; again: for those that were given up. */
export function showFigures(place, figures, { searching, again }) {
  const unknown = figures.rates_given_up ? again : searching;
  place.replaceChildren(...rows(figures, unknown).map(([term, value, ...more]) => make('div', {},
    make('dt', {}, term), make('dd', {}, value, ...more.map((text) => make('span', { class: 'more' }, text))))));
}

function rows({ level_db, loud_in_words, loud_source, mean_ma, peak_ma, hours, hours_at_most, table_bytes, flash_bytes, rates_known, rates }, unknown) {
  const spread = level_db.spread_db ? ` ± ${number(level_db.spread_db, 2)}` : '';
  const loud = (place, ...more) => {
    const words = loud_in_words[place];
    return words ? [`${capital(words.like)}; ${words.harmless}`, `${number(level_db[place])}${spread} dB(A)`, ...more] : [null];
  };
  return [
    ['Loudest at the hand', ...loud('hand', capital(loud_source))],
    ['Loudest in the audience', ...loud('audience')],
    ['Current, mean and peak', `${number(mean_ma)} and ${number(peak_ma)} mA`],
    ['Run time', hours === null ? null : `${hours_at_most ? 'at most ' : ''}${number(hours)} h`],
    ['Table', `${number(table_bytes / 1024)} of ${number(flash_bytes / 1024)} KiB of memory (${number(100 * table_bytes / flash_bytes, 2)} %)`],
    ...(rates_known ? rates.map(rateRow) : [['Fastest repeat', unknown]]),
  ].filter(([, value]) => value);
}

function rateRow({ trigger, present_per_s, fastest_per_s, breaks }) {
  const fastest = fastest_per_s === null ? 'No rate keeps all limits' : `${number(fastest_per_s)} a second at most`;
  return [`${spoken(trigger)}, now ${number(present_per_s)} a second`, fastest, ...breaks.map(brokenWords)];
}

function brokenWords({ from_per_s, concerns, what, decided }) {
  return `From ${number(from_per_s)}, ${concerns}${decided ? ' (decided)' : ''}: ${what}`;
}

/** Which press script they are for. */
export function scriptInWords(script) {
  return `Key numbers and findings are for the press script ${script ? spoken(script) : 'that shows every trigger, as the file has none'}`;
}

/** Shows the findings, the weightiest first, as the server orders them. One that is being read stays open. */
export function showFindings(place, findings) {
  const none = make('p', { class: 'small' }, 'Nothing found.'), focused = focusedIn(place)?.id;
  const open = [...place.querySelectorAll('details[open] summary')].map(({ id }) => id);
  place.replaceChildren(...(findings.length ? findings.map((each) => finding(each, open)) : [none]));
  if (focused) byId(focused)?.focus({ preventScroll: true });
}

function finding({ check, weight, subject, figure, limit, source, remedy, decided }, open) {
  const word = String(weight).toLowerCase(), id = `finding-${check}-${subject}`.replace(/\W+/g, '-');
  return make('details', { class: `finding ${word}`, open: open.includes(id) },
    make('summary', { id }, make('strong', {}, `${spoken(word)}${decided ? ', decided' : ''}`), ` ${named(`${subject}: ${figure}`)}`),
    limit ? make('p', {}, `Limit: ${named(limit)}`) : null,
    decided ? make('p', {}, `Decided: ${named(decided)}`) : null,
    remedy ? make('p', {}, named(remedy)) : null,
    make('p', { class: 'small' }, `${check}. Source: ${source}`));
}
