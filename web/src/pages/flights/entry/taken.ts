// What is taken from a file: recording, video, sound. Each is loaded when it is wanted.
import type { Component } from 'svelte'
import type { ClickedPart, RecordedPart, SoundPart } from '../../../lib/generated/pages'
import { fixed } from '../../../lib/format'

type Loaded = { default: Component<{ plane: string; plan: string | null; onadd: (part: never) => void }> }
const found = import.meta.glob<Loaded>('./{Recording,Video,Sound}Entry.svelte')

export interface Taken {
  list: 'recorded' | 'clicked' | 'sound'
  name: string
  how: string
  /** The file itself is sent to the record. */
  sent: boolean
  load: () => Promise<{ default: Component<{ plane: string; plan: string | null; onadd: (part: unknown) => void }> }>
}

const all: readonly (Omit<Taken, 'load'> & { file: string })[] = [
  { list: 'recorded', file: './RecordingEntry.svelte', name: 'recorded flight', sent: true, how: 'A log of telemetry or of a satellite receiver: CSV, GPX or NMEA.' },
  { list: 'clicked', file: './VideoEntry.svelte', name: 'video', sent: false, how: 'Your own film of a line, clicked frame by frame. It stays on this device.' },
  { list: 'sound', file: './SoundEntry.svelte', name: 'sound', sent: true, how: "The propeller's note on a line, a pass or a spin-down: a WAV file." },
]

export const TAKEN: readonly Taken[] = all.flatMap(({ file, ...one }) => {
  const load = found[file]
  return load === undefined ? [] : [{ ...one, load: load as unknown as Taken['load'] }]
})

const many = (count: number, one: string): string => `${count} ${one}${count === 1 ? '' : 's'}`

export const recordedWords = (part: RecordedPart): string => `${part.file}, ${many(part.line?.length ?? 0, 'line')}`
export const clickedWords = (part: ClickedPart): string => `${part.file}, ${many(part.clicks.length, 'place')} clicked`
export const soundWords = (part: SoundPart): string =>
  [part.file, part.what, part.from_s != null && part.to_s != null ? `${fixed(part.from_s)} to ${fixed(part.to_s)} s` : '']
    .filter(Boolean)
    .join(', ')
