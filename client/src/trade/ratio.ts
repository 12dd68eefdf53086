/** Exact fractions: what Python's Fraction is to the server's sums. Always in lowest terms, d > 0. */
export class Ratio {
  private constructor(readonly n: bigint, readonly d: bigint) {}

  static of(n: bigint | number, d: bigint | number = 1n): Ratio {
    let top = BigInt(n);
    let bottom = BigInt(d);
    if (bottom === 0n) throw new RangeError('division by zero');
    if (bottom < 0n) [top, bottom] = [-top, -bottom];
    const common = gcd(top < 0n ? -top : top, bottom);
    return new Ratio(top / common, bottom / common);
  }

  static readonly zero = Ratio.of(0n);
  static readonly one = Ratio.of(1n);

  static sum(all: readonly Ratio[]): Ratio {
    return all.reduce((total, x) => total.plus(x), Ratio.zero);
  }

  plus(other: Ratio): Ratio {
    return Ratio.of(this.n * other.d + other.n * this.d, this.d * other.d);
  }

  minus(other: Ratio): Ratio {
    return Ratio.of(this.n * other.d - other.n * this.d, this.d * other.d);
  }

  times(other: Ratio | bigint | number): Ratio {
    const by = other instanceof Ratio ? other : Ratio.of(other);
    return Ratio.of(this.n * by.n, this.d * by.d);
  }

  over(other: Ratio | bigint | number): Ratio {
    const by = other instanceof Ratio ? other : Ratio.of(other);
    return Ratio.of(this.n * by.d, this.d * by.n);
  }

  /** Below 0, 0 or above 0, as this is less than, equal to or more than the other. */
  compare(other: Ratio | bigint | number): number {
    const to = other instanceof Ratio ? other : Ratio.of(other);
    const difference = this.n * to.d - to.n * this.d;
    return difference < 0n ? -1 : difference > 0n ? 1 : 0;
  }

  get isZero(): boolean {
    return this.n === 0n;
  }

  /** The greatest whole number that is not above this. */
  floor(): bigint {
    const quotient = this.n / this.d;
    // BigInt cuts towards zero.
    return this.n < 0n && quotient * this.d !== this.n ? quotient - 1n : quotient;
  }

  /** The nearest value a screen can show; sums never go through it. */
  toNumber(): number {
    return Number(this.n) / Number(this.d);
  }
}

function gcd(a: bigint, b: bigint): bigint {
  while (b) [a, b] = [b, a % b];
  return a;
}
