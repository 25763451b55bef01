// A flight half entered: as typed, so that nothing is lost, and the form it becomes.
import type { AirPart, BatteryPart, ClickedPart, FlightForm, RecordedPart, SoundPart } from '../../lib/generated/pages'
import { typed } from '../../lib/ui/number'
import { entryOf, kindOf, LISTS, partOf, type Entry, type Values } from './kinds'

export interface Draft {
  /** Flight of the record that is changed; null: a new one. */
  flight: string | null
  /** Revision it was made from. */
  base: number
  /** Plan it was flown with; null: none. */
  plan: string | null
  date: string
  place: string
  notes: string
  air: Values
  battery: Values
  entries: readonly Entry[]
  recorded: readonly RecordedPart[]
  clicked: readonly ClickedPart[]
  sound: readonly SoundPart[]
  signs: readonly string[]
  /** What was sent to the record and not answered yet. */
  sent: { token: string; form: string } | null
}

interface Condition {
  key: string
  label: string
  unit: string
  least: number
  most: number
  ways?: readonly [string, string]
}

export const AIR: readonly (Condition & { key: keyof AirPart })[] = [
  { key: 'temperature_c', label: 'Temperature', unit: '°C', least: -40, most: 55, ways: ['above zero', 'below zero'] },
  { key: 'pressure_hpa', label: 'Pressure at the field itself', unit: 'hPa', least: 450, most: 1100 },
  { key: 'elevation_m', label: 'Height of the field above the sea', unit: 'm', least: -500, most: 5000 },
  { key: 'wind_m_s', label: 'Wind at flying height', unit: 'm/s', least: 0, most: 30 },
]
export const BATTERY: readonly (Condition & { key: keyof BatteryPart })[] = [
  { key: 'before_v', label: 'Voltage at rest before', unit: 'V', least: 1, most: 100 },
  { key: 'after_v', label: 'Voltage at rest after', unit: 'V', least: 1, most: 100 },
  { key: 'used_mah', label: 'Charged back, or counted', unit: 'mAh', least: 0, most: 50000 },
]

/** A flight of today, nothing seen yet. */
export function fresh(plan: string | null, now: Date): Draft {
  const two = (value: number): string => String(value).padStart(2, '0')
  const date = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}T${two(now.getHours())}:${two(now.getMinutes())}`
  return {
    flight: null,
    base: 0,
    plan,
    date,
    place: '',
    notes: '',
    air: {},
    battery: {},
    entries: [],
    recorded: [],
    clicked: [],
    sound: [],
    signs: [],
    sent: null,
  }
}

/** What has to be answered before it can be saved: where and what. */
export interface Open {
  /** Question of the form it stands in. */
  step: string
  words: string
}

function conditions(asked: readonly Condition[], given: Values, step: string, open: Open[]): Record<string, number> {
  const made: Record<string, number> = {}
  for (const { key, label, unit, least, most } of asked) {
    const text = (given[key] ?? '').trim()
    if (text === '' || text === '-') continue
    const number = typed(text)
    if (number === null) open.push({ step, words: `${label}: \u201c${text}\u201d is not a number.` })
    else if (number < least || number > most)
      open.push({ step, words: `${label}: ${text} ${unit} is outside ${least} to ${most} ${unit}.` })
    else made[key] = number
  }
  return made
}

/** The form, and what is still open in it. */
export function formOf(draft: Draft): { form: FlightForm; open: Open[] } {
  const open: Open[] = []
  if (draft.date.trim() === '') open.push({ step: 'when', words: 'The date is missing.' })
  const air = conditions(AIR, draft.air, 'air', open)
  const battery = conditions(BATTERY, draft.battery, 'pack', open)
  const lists: Record<string, Record<string, unknown>[]> = {}
  draft.entries.forEach((entry) => {
    const { part, open: labels } = partOf(entry)
    for (const label of labels) open.push({ step: `${entry.id}:ask`, words: `${kindOf(entry.kind).name}: ${label}.` })
    ;(lists[entry.kind] ??= []).push(part)
  })
  const { date, place, notes, recorded, clicked, sound, signs } = draft
  const form = { date: date.trim(), place: place.trim(), notes, air, battery, ...lists, recorded, clicked, sound, signs }
  if (seen(draft) === 0 && notes.trim() === '' && signs.length === 0)
    open.push({ step: 'more', words: 'Nothing is entered of what was seen.' })
  return { form: form as unknown as FlightForm, open }
}

/** Pieces of evidence in it. */
export const seen = (draft: Draft): number =>
  draft.entries.length + draft.recorded.length + draft.clicked.length + draft.sound.length

const texts = (part: object | undefined): Record<string, string> =>
  Object.fromEntries(
    Object.entries(part ?? {})
      .filter(([, value]) => value !== null)
      .map(([key, value]) => [key, String(value)]),
  )

/** A flight of the record as a draft to change. */
export function draftOf(flight: string, base: number, plan: string | null, form: FlightForm): Draft {
  const entries = LISTS.flatMap((kind) =>
    (form[kind] ?? []).map((part, index) => entryOf(kind, part as Parameters<typeof entryOf>[1], `${kind}${index}`)),
  )
  return {
    flight,
    base,
    plan,
    date: form.date,
    place: form.place ?? '',
    notes: form.notes ?? '',
    air: texts(form.air),
    battery: texts(form.battery),
    entries,
    recorded: form.recorded ?? [],
    clicked: form.clicked ?? [],
    sound: form.sound ?? [],
    signs: form.signs ?? [],
    sent: null,
  }
}

/** An id no other entry of the draft has. */
export function freeId(draft: Draft, kind: string): string {
  for (let n = draft.entries.length; ; n++) {
    const id = `${kind}${n}`
    if (draft.entries.every((entry) => entry.id !== id)) return id
  }
}

const object = (found: unknown): found is Record<string, unknown> => typeof found === 'object' && found !== null

/** What was kept, where it can be read as a draft. */
export function readDraft(kept: string | null): Draft | null {
  try {
    const found: unknown = JSON.parse(kept ?? 'null')
    if (!object(found) || typeof found.date !== 'string') return null
    const usual = fresh(null, new Date(0))
    const lists = ['entries', 'recorded', 'clicked', 'sound', 'signs']
    if (!lists.every((key) => Array.isArray(found[key])) || !object(found.air) || !object(found.battery)) return null
    const known = (found.entries as unknown[]).every(
      (one) => object(one) && LISTS.some((kind) => kind === one.kind) && object(one.on) && object(one.values),
    )
    return known ? { ...usual, ...(found as unknown as Draft) } : null
  } catch {
    return null
  }
}

/** What becomes of a draft that was sent once the record holds the flight at a revision. */
export function afterSaved(draft: Draft, token: string, revision: number): Draft | null {
  if (draft.sent === null || (draft.flight ?? draft.sent.token) !== token || revision <= draft.base) return draft
  if (JSON.stringify(formOf(draft).form) === draft.sent.form) return null
  return { ...draft, flight: token, base: revision, sent: null }
}
