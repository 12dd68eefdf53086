/** Places and lots used last on this device, newest first; only a help for the thumb, kept in localStorage. */
const KEEP = 12;

export function recent(what: 'places' | 'spawn' | 'strains'): string[] {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(`bagtrail.recent.${what}`) ?? '[]');
    return Array.isArray(kept) ? kept.filter((c): c is string => typeof c === 'string') : [];
  } catch {
    return [];
  }
}

export function remember(what: 'places' | 'spawn' | 'strains', code: string): void {
  try {
    const kept = [code, ...recent(what).filter((c) => c !== code)].slice(0, KEEP);
    localStorage.setItem(`bagtrail.recent.${what}`, JSON.stringify(kept));
  } catch {
    // Storage barred: the list is simply not sorted by use.
  }
}

/** Codes with the recent ones first, the others by name. */
export function recentFirst(what: 'places' | 'spawn' | 'strains', codes: string[], name: (code: string) => string): string[] {
  const used = recent(what).filter((c) => codes.includes(c));
  const rest = codes.filter((c) => !used.includes(c)).sort((a, b) => name(a).localeCompare(name(b), undefined, { numeric: true }));
  return [...used, ...rest];
}
