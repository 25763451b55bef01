// The flight under the hand, one a plane, kept on this device until the record has it: over a reload and a dead battery.
import { live } from '../../lib/live.svelte'
import { afterSaved, formOf, readDraft, type Draft } from './draft'

const KEPT = 'evenfall.flight.'

export class DraftStore {
  now = $state.raw<Draft | null>(null)
  /** What was taken away last and can come back. */
  gone = $state.raw<{ words: string; draft: Draft } | null>(null)
  /** Why it was not saved; empty where it was not tried or went well. */
  refusal = $state('')
  /** This device cannot keep it. */
  unkept = $state(false)

  constructor(readonly plane: string) {
    try {
      this.now = readDraft(localStorage.getItem(KEPT + plane))
    } catch {
      this.unkept = true
    }
  }

  put(draft: Draft | null): void {
    this.now = draft
    try {
      if (draft === null) localStorage.removeItem(KEPT + this.plane)
      else localStorage.setItem(KEPT + this.plane, JSON.stringify(draft))
      this.unkept = false
    } catch {
      this.unkept = draft !== null
    }
  }

  set(changes: Partial<Draft>): void {
    if (this.now !== null) this.put({ ...this.now, ...changes })
  }

  /** Take something away; it can be brought back. */
  take(words: string, after: Draft | null): void {
    if (this.now === null) return
    this.gone = { words, draft: this.now }
    this.put(after)
  }

  back(): void {
    if (this.gone !== null) this.put(this.gone.draft)
    this.gone = null
  }

  /** The record holds a flight at a revision: what was sent as it is done with. */
  saved(token: string, revision: number): void {
    if (this.now === null) return
    const after = afterSaved(this.now, token, revision)
    if (after !== this.now) this.put(after)
  }

  /** Send it to the record. True once the record has it. */
  async save(): Promise<boolean> {
    const draft = this.now
    if (draft === null) return false
    const { form } = formOf(draft)
    this.refusal = ''
    this.gone = null
    const done = live.act({
      what: 'flight.save',
      plane: this.plane,
      plan: draft.plan,
      flight: draft.flight,
      base: draft.base,
      form,
    })
    const token = live.waiting.at(-1)?.token ?? ''
    this.set({ sent: { token, form: JSON.stringify(form) } })
    try {
      await done
      this.saved(draft.flight ?? token, draft.base + 1)
      return true
    } catch (reason) {
      this.refusal = reason instanceof Error ? reason.message : String(reason)
      this.set({ sent: null })
      return false
    }
  }
}
