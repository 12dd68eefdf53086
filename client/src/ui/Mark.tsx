/** Three shapes for three results, so that none is told by colour alone: disc + tick, diamond + ?, square + cross. */
export type MarkKind = 'ok' | 'ask' | 'bad' | 'care';

export function Mark({ kind, size = 28 }: { kind: MarkKind; size?: number }) {
  const stroke = { fill: 'none', stroke: 'currentColor', 'stroke-width': 3, 'stroke-linecap': 'round' as const, 'stroke-linejoin': 'round' as const };
  return (
    <svg width={size} height={size} viewBox="0 0 32 32" aria-hidden="true" style={{ color: `var(--${kind === 'care' ? 'ink-2' : kind})` }}>
      {kind === 'ok' && <><circle cx="16" cy="16" r="13.5" {...stroke} /><path d="M9.5 16.5l4.6 4.6L23 11.5" {...stroke} /></>}
      {kind === 'ask' && <><path d="M16 1.8L30.2 16 16 30.2 1.8 16z" {...stroke} /><path d="M12.6 12.6a3.5 3.5 0 1 1 4.6 3.4c-.9.3-1.2 1-1.2 2" {...stroke} /><circle cx="16" cy="22.6" r="1.8" fill="currentColor" /></>}
      {kind === 'bad' && <><rect x="3" y="3" width="26" height="26" rx="3" {...stroke} /><path d="M10.5 10.5l11 11m0-11l-11 11" {...stroke} /></>}
      {kind === 'care' && <><path d="M16 3.5L30 28.5H2z" {...stroke} /><path d="M16 12.5v7" {...stroke} /><circle cx="16" cy="24" r="1.7" fill="currentColor" /></>}
    </svg>
  );
}
