// Which groups of the form are open, kept while the browser's tab lives.
import { tick } from 'svelte'
import type { FieldGroup } from '../../lib/generated/pages'
import { groupId } from './slots'

const KEPT = 'evenfall.groups'
const FIRST = ['', 'mass', 'wing.upper']

function kept(): string[] {
  try {
    const found: unknown = JSON.parse(sessionStorage.getItem(KEPT) ?? 'null')
    return Array.isArray(found) ? found.filter((one) => typeof one === 'string') : FIRST
  } catch {
    return FIRST
  }
}

export class OpenGroups {
  #open = $state.raw<ReadonlySet<string>>(new Set(kept()))

  has(key: string): boolean {
    return this.#open.has(key)
  }

  set(keys: readonly string[], open: boolean): void {
    const next = new Set(this.#open)
    for (const key of keys) {
      if (open) next.add(key)
      else next.delete(key)
    }
    if (next.size === this.#open.size && [...next].every((key) => this.#open.has(key))) return
    this.#open = next
    try {
      sessionStorage.setItem(KEPT, JSON.stringify([...next]))
    } catch {
      // Not kept: they are open for this visit.
    }
  }

  /** Open a group and bring its field, or its head, under the hand. */
  async show(group: FieldGroup, id?: string): Promise<boolean> {
    this.set([group.key], true)
    await tick()
    const goal =
      (id === undefined ? null : document.getElementById(id)) ??
      document.getElementById(groupId(group))?.querySelector('summary')
    goal?.focus({ preventScroll: true })
    goal?.scrollIntoView({ block: 'center' })
    return goal !== null && goal !== undefined
  }
}
