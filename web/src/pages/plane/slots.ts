// The form's fields with a place that stays when a key takes another unit, and where a fault belongs.
import type { FaultPage, FieldGroup, PlaneView } from '../../lib/generated/pages'
import type { Slot } from './draft.svelte'

const plain = (text: string): string => text.replace(/[^A-Za-z0-9]+/g, '-')

export const groupId = (group: FieldGroup): string => `g-${plain(group.key || 'top')}`

export function slotsOf(group: FieldGroup): Slot[] {
  const seen = new Map<string, number>()
  return group.fields.map((field) => {
    const name = plain(`${group.key || 'top'} ${field.label}`)
    const before = seen.get(name) ?? 0
    seen.set(name, before + 1)
    return { id: before === 0 ? `f-${name}` : `f-${name}-${before}`, field }
  })
}

/** A table of the file, and the field in it where one is meant. */
export interface Found {
  group: FieldGroup
  slot: Slot | null
}

export interface Fault extends FaultPage {
  found: Found | null
}

/** Finds what a key, with or without its unit, or the words of a fault speak of. */
export class Index {
  readonly slots = new Map<string, Slot[]>()
  readonly faults: Fault[]
  readonly #all: { group: FieldGroup; slot: Slot }[]

  constructor(readonly view: PlaneView) {
    for (const group of view.groups) this.slots.set(group.key, slotsOf(group))
    this.#all = view.groups.flatMap((group) => (this.slots.get(group.key) ?? []).map((slot) => ({ group, slot })))
    this.faults = view.faults.map((fault) => ({ ...fault, found: this.find(fault.where, fault.words) }))
  }

  find(where: string, words = ''): Found | null {
    const all = this.#all
    return (
      all.find(({ slot }) => slot.field.path === where) ??
      all.find(({ slot }) => words !== '' && slot.field.fault === words) ??
      all.find(({ slot }) => where !== '' && slot.field.path.startsWith(`${where}_`)) ??
      this.#table(where)
    )
  }

  #table(where: string): Found | null {
    const fits = this.view.groups.filter(({ key }) => key !== '' && (where === key || where.startsWith(`${key}.`)))
    const group = fits.sort((a, b) => b.key.length - a.key.length)[0]
    return group === undefined ? null : { group, slot: null }
  }
}
