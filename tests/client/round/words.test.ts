/** Whatever a round tells has its sentence: ids are put together at run time, so they are read out of the source. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import gb from '../../../client/src/i18n/en-GB.json';
import rest from '../../../client/src/i18n/en-GB.rest.json';
import { COMMANDS } from '../../../client/src/round/commands';
import { ROW_ACTS } from '../../../client/src/round/daysheet';
import { ANSWERABLE } from '../../../client/src/round/machine';
import { NAMES, PURPOSES } from '../../../client/src/round/purposes';
import { commandName, cardGroups } from '../../../client/src/screens/Papers';
import '../../../client/src/i18n/rest';

const TEXTS: Record<string, string> = { ...gb, ...rest };
const source = (name: string): string => readFileSync(new URL(`../../../client/src/round/${name}.ts`, import.meta.url), 'utf8');
const all = (text: string, pattern: RegExp): string[] => [...text.matchAll(pattern)].map((m) => m[1] as string);

describe('the words of a round', () => {
  const machine = source('machine');
  const told = all(machine, /told\('[a-z]+', '([a-z_.]+)'/g);
  const misfits = all(machine, /misfit\([^()]*?(?:\([^()]*\))?[^()]*?'([a-z_]+)'/g);

  it('are found in the source', () => {
    expect(told).toEqual(expect.arrayContaining(['before', 'target', 'whole_done']));
    expect(misfits).toEqual(expect.arrayContaining(['letter', 'unknown', 'ended', 'failed', 'too_few']));
  });

  it('are there, all of them', () => {
    const choices = [...new Set(Object.values(PURPOSES).flatMap((p) => [...p.choices]))];
    const must = [...new Set(Object.values(PURPOSES).flatMap((p) => [...p.must, ...(p.target?.needed ? [p.target.letter] : [])]))];
    const wanted = [
      ...told.map((id) => `round.told.${id}`), ...misfits.map((id) => `round.misfit.${id}`),
      ...must.map((id) => `round.told.missing.${id}`), ...choices.map((id) => `round.choose.${id}`),
      ...['taken', 'before', 'misfit', 'set', 'ask'].map((id) => `round.word.${id}`),
      ...ANSWERABLE.filter((id) => id !== 'ended').flatMap((id) => [`round.ask.${id}`, `round.ask.${id}.yes`]),
      ...all(source('order'), /'((?:last|wipe|held)_[a-z]+)'/g).map((id) => `round.order.${id}`),
      ...NAMES.flatMap((name) => [`purpose.${name}`, `purpose.${name}.about`]),
      ...ROW_ACTS.map((act) => `day.act.${act}`),
      ...all(source('daysheet'), /why: '([a-z_]+)'/g).concat('place', 'lot', 'what_unknown', 'what_several').flatMap((why) => [`day.wrong.${why}`, `day.wrong.${why}.todo`]),
    ];
    expect(wanted.length).toBeGreaterThan(90);
    expect(wanted.filter((id) => !(id in TEXTS))).toEqual([]);
  });

  it('name every command on the card, none twice', () => {
    expect(COMMANDS.filter((word) => / |\./.test(commandName(word)) && commandName(word).includes('.'))).toEqual([]);
    const tags = cardGroups().flatMap((group) => group.tags);
    expect(tags.map((tag) => tag.code)).toHaveLength(COMMANDS.length);
    expect(cardGroups().filter((group) => group.title.includes('.'))).toEqual([]);
  });
});
