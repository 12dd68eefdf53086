/** A round as it is kept beside the outbox: what it is for, and what no record says. Data only. */

/** What is known of a scanned code when it is scanned. */
export interface Fact {
  code: string;
  /** part: a bag or group; unknown: nobody has named or filled it. */
  type: 'part' | 'batch' | 'place' | 'spawn' | 'load' | 'crate' | 'person' | 'unknown';
  name: string;
  /** Bags it stands for. */
  n: number;
  ended?: string | undefined;
  spawned?: boolean | undefined;
  gate?: string | undefined;
  /** The load it stood in last, and whether somebody was asked about it and did not know. */
  load?: string | undefined;
  asked?: boolean | undefined;
  /** What stands at a place, code by code. */
  codes?: string[] | undefined;
  bad?: boolean | undefined;
  /** Batches and strains a harvest of it comes of, and the flush to propose. */
  of?: [string, string][] | undefined;
  next?: number | undefined;
  /** Parts without a label, largest first: where counts and blank labels come from. */
  groups?: { code: string; n: number }[] | undefined;
  /** The number the next label of its batch gets. */
  first?: string | undefined;
}

export interface Misfit {
  code: string;
  name: string;
  /** The sentence is `round.misfit.<reason>`. */
  reason: string;
  at: number;
  /** Kept for reasons that a person may overrule, until it is settled. */
  fact?: Fact;
}

/** One line of a round that is stored: the record, and what it was about. */
export interface Taken {
  code: string;
  name: string;
  n: number;
  /** Records of the act, with what each is about. */
  records: { id: string; sub: string[] }[];
  at: number;
  /** Grams or bags, where the purpose asks for them. */
  figure?: number;
}

export interface Round {
  v: 1;
  id: string;
  purpose: string;
  began: number;
  /** The tag that the scans lead to: shelf, spawn lot, load, crate, group. */
  target: string | null;
  /** Group that blank labels are taken from. */
  from: { code: string; first: string; name: string } | null;
  /** Chosen once. */
  d: Record<string, string | number>;
  flush: number | null;
  /** "All but these": '' once wished for, then the code of the whole. */
  whole: string | null;
  /** Exceptions of the whole. */
  held: Fact[];
  /** Scanned before target, choices or figure were there. */
  waiting: Fact[];
  digits: string;
  misfits: Misfit[];
  /** What a person said to a reason, asked once a round. */
  said: Record<string, 'take' | 'leave'>;
}

export function newRound(id: string, purpose: string, began: number): Round {
  return {
    v: 1, id, purpose, began, target: null, from: null, d: {}, flush: null, whole: null, held: [], waiting: [], digits: '',
    misfits: [], said: {},
  };
}

/** Whether a stored value is a round of this version; a later version's is left alone. */
export function isRound(value: unknown): value is Round {
  const round = value as Partial<Round> | null | undefined;
  return typeof round === 'object' && round !== null && round.v === 1 && typeof round.id === 'string' && typeof round.purpose === 'string';
}
