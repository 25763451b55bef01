// Which change Undo takes back: that of what is on show, by button and by key.
import { live } from '../lib/live.svelte'
import { place } from '../lib/place.svelte'

interface History {
  file: string
  undo: string | null
  redo: string | null
}

/** The plane on its own page; elsewhere the plan, or the plane where the plan has nothing to take back. */
export function history(): History | null {
  if (place.question === 'plane' || place.plan === null) return place.plane
  return place.plan.undo !== null || place.plan.redo !== null ? place.plan : place.plane
}

export function takeBack(what: 'undo' | 'redo'): void {
  const of = history()
  if (of === null || live.readOnly || of[what] === null) return
  place.draft = null
  void live.try({ what, file: of.file })
}

/** Where typed letters belong to a text: there the browser's own undo works. */
function types(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false
  if (target.isContentEditable || target instanceof HTMLTextAreaElement) return true
  return target instanceof HTMLInputElement && !['range', 'checkbox', 'radio', 'button', 'file'].includes(target.type)
}

/** Ctrl+Z and Ctrl+Shift+Z (or Ctrl+Y) anywhere but in a text. */
export function keys(event: KeyboardEvent): void {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.defaultPrevented || types(event.target)) return
  const key = event.key.toLowerCase()
  const what = key === 'z' ? (event.shiftKey ? 'redo' : 'undo') : key === 'y' && !event.shiftKey ? 'redo' : null
  if (what === null) return
  event.preventDefault()
  takeBack(what)
}
