// A recording that is being looked at, kept over a reload or an empty battery until its lines are added.
import type { OriginalAnswer } from '../../../lib/generated/pages'
import type { Columns } from './columns'
import type { OnLine } from './onLine'
import type { Span } from './span'

const KEY = 'evenfall.recording'

export interface KeptRecording {
  plane: string
  original: OriginalAnswer
  columns: Columns
  cuts: { span: Span; confirmed: boolean; on: OnLine }[]
}

function isKept(found: unknown): found is KeptRecording {
  if (typeof found !== 'object' || found === null) return false
  const { plane, original, columns, cuts } = found as Partial<Record<keyof KeptRecording, unknown>>
  const hash = typeof original === 'object' && original !== null && 'hash' in original ? original.hash : null
  return typeof plane === 'string' && typeof hash === 'string' && typeof columns === 'object' && columns !== null && Array.isArray(cuts)
}

/** What was left of this plane; null where nothing. */
export function keptRecording(plane: string): KeptRecording | null {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(KEY) ?? 'null')
    return isKept(found) && found.plane === plane ? found : null
  } catch {
    return null
  }
}

/** Null forgets. */
export function keepRecording(kept: KeptRecording | null): void {
  try {
    if (kept === null) localStorage.removeItem(KEY)
    else localStorage.setItem(KEY, JSON.stringify(kept))
  } catch {
    // Not kept: it still holds for this page.
  }
}
