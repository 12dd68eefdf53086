/** What a round can be for: which tag sets its target, what is chosen once, and what each scan writes. Data only. */

export interface Purpose {
  /** The record of each scan. */
  ty: string;
  /** The record at the end of the round, where its choices belong to that one. */
  closes?: string;
  /** Letter of the tag that is the target, and the field it goes into; `needed`: nothing is taken without it. */
  target?: { letter: string; field: string; needed: boolean };
  /** Fields with choices, set by touch or command tag; those in `must` before anything is taken. */
  choices: readonly string[];
  must: readonly string[];
  /** A figure each scan waits for: grams, or a count of bags. */
  figure?: 'g' | 'n';
  /** Letters that may be scanned; bags and groups where nothing is said. */
  takes: string;
  /** Whole batches and places, "all but these", make sense. */
  whole: boolean;
  /** A bag whose life has ended does not fit. */
  alive: boolean;
}

const PLAIN = { choices: [], must: [], takes: 'BG', whole: false, alive: true } as const;

export const PURPOSES: Readonly<Record<string, Purpose>> = {
  inoculate: { ...PLAIN, ty: 'bag.inoculated', target: { letter: 'S', field: 'spawn', needed: true } },
  move: { ...PLAIN, ty: 'bag.moved', target: { letter: 'P', field: 'to', needed: true } },
  // Each scan puts in what it names; the result may be told at the end, or later on the load's page.
  load: { ...PLAIN, ty: 'load.filled', closes: 'load.ran', target: { letter: 'H', field: '', needed: true }, choices: ['result'], takes: 'BGMP' },
  adopt: { ...PLAIN, ty: 'group.split', target: { letter: 'G', field: '', needed: true } },
  look: { ...PLAIN, ty: 'bag.checked', whole: true },
  colonised: { ...PLAIN, ty: 'bag.colonised', whole: true },
  open: { ...PLAIN, ty: 'bag.opened', choices: ['how'], must: ['how'], whole: true },
  soak: { ...PLAIN, ty: 'bag.soaked', whole: true },
  shock: { ...PLAIN, ty: 'bag.shocked', whole: true },
  pick: { ...PLAIN, ty: 'bag.harvested', figure: 'g', choices: ['grade'], takes: 'BGMP', target: { letter: 'K', field: 'crate', needed: false } },
  weigh: { ...PLAIN, ty: 'bag.weighed', figure: 'g', choices: ['when'], must: ['when'] },
  finish: { ...PLAIN, ty: 'bag.finished', choices: ['cause'], must: ['cause'] },
  contaminated: {
    ...PLAIN, ty: 'bag.contaminated', choices: ['sign', 'where', 'kept'], must: ['sign', 'where', 'kept'], alive: false,
    target: { letter: 'P', field: 'to', needed: false },
  },
  fill: { ...PLAIN, ty: 'bag.filled', figure: 'n', takes: 'M', target: { letter: 'P', field: 'place', needed: false } },
  roll: { ...PLAIN, ty: 'place.moved', takes: 'P' },
  pack: { ...PLAIN, ty: 'crop.packed', figure: 'g', choices: ['grade'], takes: 'KM', alive: false },
};

/** The purposes in the order of the day, as the screen offers them. */
export const NAMES = Object.keys(PURPOSES);

export function purposeOf(name: string): Purpose {
  const purpose = PURPOSES[name];
  if (!purpose) throw new RangeError(`no purpose: ${name}`);
  return purpose;
}
