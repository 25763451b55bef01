// Programmes of figures on offer: those that come with Evenfall and the folder's own, called by the names in them.
import type { SequenceEntry } from './generated/pages'
import { live } from './live.svelte'

/** Those of the folder as it is now. */
export function programmes(): SequenceEntry[] {
  return live.folder?.sequences ?? []
}

/** What to call one; those of the folder by their file as well, for two may have one name. */
export function called(entry: SequenceEntry): string {
  if (entry.name === '') return entry.file
  return entry.file.includes('.') ? `${entry.name}, ${entry.file}` : entry.name
}
