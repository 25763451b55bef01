// What can be entered of a flight, kind by kind: the questions of each, and the part of the form it becomes.
import type { FlightForm, HeldPart } from '../../lib/generated/pages'
import { typed } from '../../lib/ui/number'
import { lineWords, START, type OnLine } from './entry/onLine'

export type Kind = 'timed' | 'rolls' | 'pull' | 'held' | 'steady' | 'shaft' | 'heading' | 'trim'
export type Values = Readonly<Record<string, string>>

interface Question {
  key: string
  label: string
  hint?: string
  needed?: boolean
  /** Asked only then. */
  when?: (values: Values) => boolean
  /** Folded away: seldom asked. */
  seldom?: boolean
}
export interface NumberQuestion extends Question {
  kind: 'number'
  unit: string
  ways?: readonly [string, string]
  /** From the form's number to the typed one and back, where they differ: its own inverse. */
  turn?: (value: number) => number
}
export interface ChoiceQuestion extends Question {
  kind: 'choice'
  options: readonly { value: string; label: string }[]
  /** Not a key of the part: which questions follow is all it says. */
  only?: boolean
}
/** One of the plan's phases. */
export interface PhaseQuestion extends Question {
  kind: 'phase'
}
export type Asked = NumberQuestion | ChoiceQuestion | PhaseQuestion

export interface KindOf {
  kind: Kind
  /** In the list of what can be entered. */
  name: string
  /** What is done for it, in a sentence. */
  how: string
  /** Throttle is a question of the line, not of the kind. */
  throttle: boolean
  /** Line it is most often seen on. */
  on: Partial<OnLine>
  start: Values
  asks: readonly Asked[]
}

const is = (key: string, ...values: string[]) => (given: Values): boolean => values.includes(given[key] ?? '')
const speed: NumberQuestion = {
  kind: 'number',
  key: 'speed_m_s',
  label: 'Air speed then',
  unit: 'm/s',
  hint: 'Empty: the wanted speed.',
  seldom: true,
}
const over: NumberQuestion = { kind: 'number', key: 'over_m', label: 'Length of line over which you saw it', unit: 'm', needed: true }

export const KINDS: readonly KindOf[] = [
  {
    kind: 'timed',
    name: 'timed line',
    how: 'Time over a stretch of the line: by stopwatch, or from two frames of a video.',
    throttle: true,
    on: {},
    start: { by: 'stopwatch', stretch: 'length' },
    asks: [
      { kind: 'number', key: 'seconds', label: 'Time over the stretch', unit: 's', needed: true },
      {
        kind: 'choice',
        key: 'by',
        label: 'Taken with',
        options: [
          { value: 'stopwatch', label: 'stopwatch' },
          { value: 'video', label: 'frames of a video' },
        ],
      },
      {
        kind: 'number',
        key: 'frame_s',
        label: 'Frames a second of the video',
        unit: '1/s',
        when: is('by', 'video'),
        turn: (value) => 1 / value,
        needed: true,
      },
      {
        kind: 'choice',
        key: 'stretch',
        label: 'The stretch is known by',
        only: true,
        options: [
          { value: 'length', label: 'its length' },
          { value: 'heights', label: 'two heights' },
          { value: 'angles', label: 'two elevation angles from where you stood' },
        ],
      },
      { kind: 'number', key: 'length_m', label: 'Length of the stretch', unit: 'm', when: is('stretch', 'length'), needed: true },
      { kind: 'number', key: 'from_height_m', label: 'Height where the time began', unit: 'm', when: is('stretch', 'heights'), needed: true },
      { kind: 'number', key: 'to_height_m', label: 'Height where it ended', unit: 'm', when: is('stretch', 'heights'), needed: true },
      { kind: 'number', key: 'from_elevation_deg', label: 'Elevation angle where the time began', unit: '°', when: is('stretch', 'angles'), needed: true },
      { kind: 'number', key: 'to_elevation_deg', label: 'Elevation angle where it ended', unit: '°', when: is('stretch', 'angles'), needed: true },
      { kind: 'number', key: 'distance_m', label: 'Distance over ground to the line', unit: 'm', when: is('stretch', 'angles'), needed: true },
      { kind: 'number', key: 'skipped_m', label: 'Flown on the line before the time began', unit: 'm', hint: 'Empty: not known.', seldom: true },
      { kind: 'number', key: 'entry_speed_m_s', label: 'Speed at the start of the line', unit: 'm/s', hint: 'Empty: not known.', seldom: true },
    ],
  },
  {
    kind: 'rolls',
    name: 'rolls',
    how: 'Full rolls with full aileron, timed by stopwatch: on a down line and on a level one.',
    throttle: true,
    on: {},
    start: { rolls: '', phase: '' },
    asks: [
      { kind: 'number', key: 'rolls', label: 'Full rolls', unit: '', needed: true },
      { kind: 'number', key: 'seconds', label: 'Time for them', unit: 's', needed: true },
      { kind: 'phase', key: 'phase', label: 'Phase', hint: 'Its full throw was used.' },
      speed,
    ],
  },
  {
    kind: 'pull',
    name: 'bend',
    how: 'How the line bent with the elevator stick left alone, or that it stayed straight.',
    throttle: true,
    on: {},
    start: { towards: '', how: 'degrees' },
    asks: [
      {
        kind: 'choice',
        key: 'towards',
        label: 'It bent towards',
        needed: true,
        options: [
          { value: 'canopy', label: 'the canopy' },
          { value: 'belly', label: 'the belly' },
          { value: 'none', label: 'neither: it stayed straight' },
        ],
      },
      {
        kind: 'choice',
        key: 'how',
        label: 'How much, seen as',
        only: true,
        when: is('towards', 'canopy', 'belly'),
        options: [
          { value: 'degrees', label: 'degrees turned over a length' },
          { value: 'metres', label: 'metres off the line over a length' },
          { value: 'rate', label: 'degrees a second' },
        ],
      },
      { kind: 'number', key: 'bent_deg', label: 'Turned over the length', unit: '°', when: (v) => bends(v) && is('how', 'degrees')(v), needed: true },
      { kind: 'number', key: 'off_m', label: 'Off the straight line after the length', unit: 'm', when: (v) => bends(v) && is('how', 'metres')(v), needed: true },
      { kind: 'number', key: 'turning_deg_s', label: 'Turned so fast', unit: '°/s', when: (v) => bends(v) && is('how', 'rate')(v), needed: true },
      { ...over, when: (v) => is('towards', 'none')(v) || (bends(v) && !is('how', 'rate')(v)) },
    ],
  },
  {
    kind: 'held',
    name: 'holding stick',
    how: 'The throttle stick at which a line went on at the wanted speed.',
    throttle: false,
    on: { line: 'level', crow: false },
    start: {},
    asks: [{ kind: 'number', key: 'stick_percent', label: 'Throttle stick', unit: '%', needed: true }],
  },
  {
    kind: 'steady',
    name: 'speed',
    how: 'A speed that had settled: from telemetry, or the mean of a level pass both ways.',
    throttle: true,
    on: {},
    start: {},
    asks: [{ kind: 'number', key: 'speed_m_s', label: 'Speed', unit: 'm/s', needed: true }],
  },
  {
    kind: 'heading',
    name: 'heading or roll drift',
    how: 'The nose or a wing moved away by itself on a line with the sticks left alone.',
    throttle: true,
    on: {},
    start: {},
    asks: [
      { kind: 'number', key: 'yawed_deg', label: 'Nose went', unit: '°', ways: ['right', 'left'] },
      { kind: 'number', key: 'rolled_deg', label: 'Rolled', unit: '°', ways: ['right wing down', 'left wing down'] },
      over,
    ],
  },
  {
    kind: 'shaft',
    name: 'propeller speed',
    how: 'Revolutions of the propeller on a line, from telemetry.',
    throttle: true,
    on: {},
    start: {},
    asks: [{ kind: 'number', key: 'shaft_rpm', label: 'Propeller speed', unit: 'rpm', needed: true }, speed],
  },
  {
    kind: 'trim',
    name: 'elevator trim',
    how: 'Change of elevator trim that made a line straight.',
    throttle: true,
    on: {},
    start: {},
    asks: [{ kind: 'number', key: 'elevator_percent', label: 'Elevator trim changed by', unit: '%', ways: ['up', 'down'], needed: true }],
  },
]

function bends(values: Values): boolean {
  return is('towards', 'canopy', 'belly')(values)
}

export const kindOf = (kind: Kind): KindOf => KINDS.find((one) => one.kind === kind) as KindOf

/** The questions that are asked with what is answered so far. */
export const askedOf = (kind: Kind, values: Values): Asked[] => kindOf(kind).asks.filter((one) => one.when?.(values) ?? true)

export interface Entry {
  id: string
  kind: Kind
  on: OnLine
  values: Values
}

export function started(kind: Kind, id: string): Entry {
  const of = kindOf(kind)
  return { id, kind, on: { ...START, ...of.on }, values: of.start }
}

/** An entry as a part of the form, and the questions still to be answered. */
export function partOf(entry: Entry): { part: Record<string, unknown>; open: string[] } {
  const part: Record<string, unknown> = { ...entry.on }
  const open: string[] = []
  for (const one of askedOf(entry.kind, entry.values)) {
    const text = (entry.values[one.key] ?? '').trim()
    if (one.kind === 'number') {
      const empty = text === '' || text === '-'
      const number = typed(text)
      if (empty ? one.needed : number === null) open.push(one.label)
      else if (number !== null) part[one.key] = one.turn ? one.turn(number) : number
    } else if (text === '') {
      if (one.needed) open.push(one.label)
    } else if (one.kind === 'phase' || !one.only) part[one.key] = text
  }
  return { part, open }
}

const text = (value: unknown): string => (value === null || value === undefined ? '' : String(value))
const tidy = (value: number): number => Number(value.toPrecision(7))

/** A part of a kept form as an entry to change. */
export function entryOf(kind: Kind, part: HeldPart & Readonly<Record<string, unknown>>, id: string): Entry {
  const on = Object.fromEntries(
    Object.entries(START).map(([key, usual]) => [key, part[key as keyof OnLine] ?? usual]),
  ) as unknown as OnLine
  const values: Record<string, string> = { ...kindOf(kind).start }
  for (const one of kindOf(kind).asks) {
    const value = part[one.key]
    if (value === null || value === undefined) continue
    values[one.key] = one.kind === 'number' && one.turn && typeof value === 'number' ? text(tidy(one.turn(value))) : text(value)
  }
  if (kind === 'timed') values.stretch = part.from_elevation_deg != null ? 'angles' : part.from_height_m != null ? 'heights' : 'length'
  if (kind === 'pull') values.how = part.turning_deg_s != null ? 'rate' : part.off_m != null ? 'metres' : 'degrees'
  if (kind === 'held') on.stick_percent = null
  return { id, kind, on, values }
}

/** The entry in a line, for a list. */
export function entryWords(entry: Entry): string {
  const told = askedOf(entry.kind, entry.values)
    .filter((one): one is NumberQuestion => one.kind === 'number' && (entry.values[one.key] ?? '').trim() !== '')
    .slice(0, 2)
    .map((one) => `${(entry.values[one.key] ?? '').trim()} ${one.unit}`.trim())
  return [lineWords(entry.on), ...told].join(', ')
}

export const LISTS = ['timed', 'rolls', 'pull', 'held', 'steady', 'shaft', 'heading', 'trim'] as const satisfies readonly (keyof FlightForm)[]
