// The form's fields with a place that stays when a key takes another unit, and where a fault belongs.
import type { FaultPage, FieldGroup, FieldPage, PlaneView } from '../../lib/generated/pages'
import type { Slot } from './draft.svelte'

const plain = (text: string): string => text.replace(/[^A-Za-z0-9]+/g, '-')

export function slotsOf(group: FieldGroup): Slot[] {
  const seen = new Map<string, number>()
  return group.fields.map((field) => {
    const name = plain(`${group.key || 'top'} ${field.label}`)
    const before = seen.get(name) ?? 0
    seen.set(name, before + 1)
    return { id: before === 0 ? `f-${name}` : `f-${name}-${before}`, field }
  })
}

export interface Found {
  group: FieldGroup
  slot: Slot
}

/** The field a key belongs to, with or without its unit. */
export function find(view: PlaneView, where: string, words = ''): Found | null {
  const fits: ((field: FieldPage) => boolean)[] = [
    (field) => field.path === where,
    (field) => words !== '' && field.fault === words,
    (field) => where !== '' && field.path.startsWith(`${where}_`),
  ]
  for (const fit of fits)
    for (const group of view.groups)
      for (const slot of slotsOf(group)) if (fit(slot.field)) return { group, slot }
  return null
}

/** The group a key belongs to where no field does. */
export function groupOf(view: PlaneView, where: string): FieldGroup | null {
  const fits = view.groups.filter((group) => group.key !== '' && (where === group.key || where.startsWith(`${group.key}.`)))
  return fits.sort((a, b) => b.key.length - a.key.length)[0] ?? null
}

export const groupId = (group: FieldGroup): string => `g-${plain(group.key || 'top')}`

/** Faults of a group: of its fields or of the table as a whole. */
export function faultsOf(view: PlaneView, group: FieldGroup): FaultPage[] {
  return view.faults.filter((fault) => {
    const found = find(view, fault.where, fault.words)
    return (found?.group ?? groupOf(view, fault.where))?.key === group.key
  })
}
