// A part of a time axis with two ends that can be moved: never crossed, never shorter than allowed, within the axis.

export interface Span {
  from: number
  to: number
}

export type End = 'from' | 'to'

/** One end moved to a time, s: kept within `least` and `most` and at least `shortest` from the other end. */
export function moved(span: Span, end: End, time: number, least: number, most: number, shortest: number): Span {
  if (end === 'from') return { ...span, from: Math.max(Math.min(time, span.to - shortest), least) }
  return { ...span, to: Math.min(Math.max(time, span.from + shortest), most) }
}

/** Where a key moves an end, s from where it is; null for a key that does not. */
export function keyStep(key: string, fine: number, coarse: number): number | null {
  const steps: Record<string, number> = {
    ArrowLeft: -fine, ArrowDown: -fine, ArrowRight: fine, ArrowUp: fine, PageDown: -coarse, PageUp: coarse,
  }
  return steps[key] ?? null
}

/** To a tenth, as it is shown and sent. */
export const tenth = (time: number): number => Math.round(10 * time) / 10

/** The stretch shown around a span: half as long again on both sides, at least `least` s in all, within the axis. */
export function around(span: Span, begin: number, end: number, least: number): Span {
  const margin = Math.max(0.5 * (span.to - span.from), (least - (span.to - span.from)) / 2)
  return { from: Math.max(span.from - margin, begin), to: Math.min(span.to + margin, end) }
}
