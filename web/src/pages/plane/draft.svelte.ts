// What the hand has typed and the file does not hold yet. An answer never overwrites it; saving, Escape or the file
// itself take it away.
import type { Do, FieldPage } from '../../lib/generated/pages'
import { live } from '../../lib/live.svelte'
import { entry, typed } from '../../lib/ui/number'
import { converted, ending, rekeyed, type Ending } from '../../lib/ui/units'

type Edits = Extract<Do['action'], { what: 'plane.set' }>['edits']
export type Value = Edits[string]

/** A field and its place on the page, which stays when its key takes another unit. */
export interface Slot {
  id: string
  field: FieldPage
}

export interface Typed {
  /** As it was before the first key was pressed. */
  field: FieldPage
  /** Key it is written under. */
  key: string
  text: string
  spread: string
  /** Saved; the next answer brings it back from the file. */
  saved: boolean
  /** Why it was not saved; empty where it was not tried or went well. */
  refusal: string
}

/** What is wrong with a text as such; empty where it can be read. */
export function unreadable(one: Typed): string {
  if (one.field.kind !== 'number') return ''
  if (one.text.trim() !== '' && typed(one.text) === null)
    return `\u201c${one.text.trim()}\u201d is not a number. Write digits, with a decimal point or comma where needed.`
  if (one.spread.trim() !== '' && (typed(one.spread) ?? -1) < 0)
    return `The spread \u201c${one.spread.trim()}\u201d is not a number of nought or more.`
  return ''
}

function value(one: Typed): Value {
  const text = one.text.trim()
  if (text === '') return null
  if (one.field.kind === 'yes/no') return text === 'true'
  if (one.field.kind !== 'number') return text
  const number = typed(text)
  const sigma = typed(one.spread)
  return number === null ? null : sigma === null ? number : [number, sigma]
}

const statedSpread = (field: FieldPage): string =>
  field.source === 'stated' && field.spread !== null ? entry(field.spread) : ''

export class Draft {
  typed = $state.raw<Record<string, Typed>>({})
  /** Units chosen for entries that are still empty, by slot. */
  units = $state.raw<Record<string, string>>({})

  /** Unsaved values as the server is asked with them. */
  edits: Edits = $derived(
    Object.fromEntries(
      Object.values(this.typed)
        .filter((one) => !one.saved && unreadable(one) === '')
        .map((one) => [one.key, value(one)]),
    ),
  )

  constructor(readonly file: string) {}

  text(slot: Slot): string {
    return this.typed[slot.id]?.text ?? entry(slot.field.value)
  }

  spread(slot: Slot): string {
    return this.typed[slot.id]?.spread ?? statedSpread(slot.field)
  }

  /** Ending of the key as it would be written; null without a unit. */
  unit(slot: Slot): { end: Ending; suffix: string } | null {
    const end = ending(slot.field.path, slot.field.other_units)
    if (end === null) return null
    return { end, suffix: slot.field.given ? end.suffix : (this.units[slot.id] ?? end.suffix) }
  }

  type(slot: Slot, change: { text?: string; spread?: string }): void {
    const { field } = slot
    const unit = this.unit(slot)
    const key = unit === null ? field.path : rekeyed(field.path, unit.end, unit.suffix)
    const before = this.typed[slot.id] ?? { field, key, text: entry(field.value), spread: statedSpread(field) }
    this.typed = { ...this.typed, [slot.id]: { ...before, ...change, saved: false, refusal: '' } }
  }

  forget(id: string): void {
    const { [id]: _, ...rest } = this.typed
    this.typed = rest
  }

  /** An answer has come: what was saved before it is in it. */
  arrived(): void {
    const left = Object.entries(this.typed).filter(([, one]) => !one.saved)
    if (left.length < Object.keys(this.typed).length) this.typed = Object.fromEntries(left)
  }

  async save(id: string): Promise<void> {
    const one = this.typed[id]
    if (one === undefined || one.saved || unreadable(one) !== '') return
    if (one.text.trim() === entry(one.field.value) && one.spread.trim() === statedSpread(one.field)) {
      this.forget(id)
      return
    }
    await this.#write({ [one.key]: value(one) }, id)
  }

  async saveAll(): Promise<void> {
    await Promise.all(Object.keys(this.typed).map((id) => this.save(id)))
  }

  /** Another unit: the number is converted and the new key takes the old one's place; an empty entry only takes its unit. */
  async changeUnit(slot: Slot, suffix: string): Promise<void> {
    const unit = this.unit(slot)
    if (unit === null || unit.suffix === suffix) return
    const number = typed(this.text(slot))
    if (!slot.field.given || number === null) {
      this.forget(slot.id)
      this.units = { ...this.units, [slot.id]: suffix }
      return
    }
    const [made, sigma] = converted(number, typed(this.spread(slot)), unit.end, suffix)
    const key = rekeyed(slot.field.path, unit.end, suffix)
    await this.#write({ [key]: sigma === null ? made : [made, sigma] }, slot.id)
  }

  async #write(edits: Edits, id: string): Promise<void> {
    const sent = this.typed[id]
    try {
      await live.act({ what: 'plane.set', file: this.file, edits })
      const now = this.typed[id]
      if (sent !== undefined && now === sent) this.typed = { ...this.typed, [id]: { ...sent, saved: true } }
    } catch (reason) {
      const refusal = reason instanceof Error ? reason.message : String(reason)
      const now = this.typed[id]
      if (now === undefined) live.trouble = refusal
      else this.typed = { ...this.typed, [id]: { ...now, refusal } }
    }
  }
}
