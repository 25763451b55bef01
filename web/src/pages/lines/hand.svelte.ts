// What is under the hand on this page: the draft of the plan, its instant answer, and how it is kept.
import { follow, type Following } from '../../lib/answer.svelte'
import type { AskArgs } from '../../lib/contract'
import type { PlanChanges, PlanPage, QuickPage } from '../../lib/generated/pages'
import { live } from '../../lib/live.svelte'
import { place } from '../../lib/place.svelte'

/** The hand rests when nothing moved for so long, ms. */
const REST_MS = 300

/** The instant answer: one ask at a time on its way, the newest wish kept back until it is answered. */
export class Quick {
  /** The last answer; null before the first. */
  page = $state.raw<QuickPage | null>(null)
  /** The draft that answer belongs to. */
  of = $state.raw<PlanChanges | null>(null)
  /** Why there is no newer answer; empty where there is one. */
  trouble = $state('')
  #flying = false
  #next: AskArgs | null = null

  constructor() {
    $effect(() => {
      const args = place.args
      const changes = place.draft
      void place.revision
      if (args === null || live.hello === null) return
      this.#want({ ...args, changes })
    })
  }

  #want(args: AskArgs): void {
    if (this.#flying) this.#next = args
    else void this.#fly(args)
  }

  async #fly(args: AskArgs): Promise<void> {
    this.#flying = true
    try {
      const page = await live.ask('quick', args, { channel: 'quick of the lines' })
      if (page !== null) {
        this.page = page
        this.of = args.changes ?? null
        this.trouble = ''
      }
    } catch (reason) {
      this.trouble = reason instanceof Error ? reason.message : String(reason)
    }
    this.#flying = false
    const next = this.#next
    this.#next = null
    if (next !== null) void this.#fly(next)
  }
}

/** Size of the crow, degrees to two decimals: files hold radians' round-off. */
const larger = (upper: number | null | undefined, lower: number | null | undefined): number =>
  Math.round(100 * Math.max(Math.abs(upper ?? 0), Math.abs(lower ?? 0))) / 100

/** The plan of this page with what the hand changed in it. Made in the page's script. */
export class Hand {
  readonly quick: Quick = new Quick()
  readonly plan: Following<'plan'> = follow('plan')
  /** The draft after the hand rested: what the slower answers follow. */
  rested = $state.raw<PlanChanges | null>(null)

  saved: PlanPage | null = $derived(this.plan.page?.plan ?? null)
  /** True where the instant answer belongs to what is under the hand. */
  fresh: boolean = $derived(this.quick.of === place.draft)

  level: string = $derived(place.draft?.level ?? this.saved?.motor.level ?? '')
  angle: number = $derived.by(() => {
    const draft = place.draft
    if (draft?.angle_deg != null) return draft.angle_deg
    if (draft?.upper_deg != null || draft?.lower_deg != null) return larger(draft.upper_deg, draft.lower_deg)
    return larger(this.saved?.crow?.upper_deg, this.saved?.crow?.lower_deg)
  })
  /** Part the lower wing moves less than the upper (positive) or the upper less than the lower, percent. */
  split: number = $derived.by(() => {
    const crow = this.saved?.crow
    const upper = Math.abs(place.draft?.upper_deg ?? crow?.upper_deg ?? 0)
    const lower = Math.abs(place.draft?.lower_deg ?? crow?.lower_deg ?? 0)
    if (upper === 0 || lower === 0) return 0
    return 100 * (upper >= lower ? 1 - lower / upper : upper / lower - 1)
  })
  threshold: number = $derived(place.draft?.threshold_percent ?? this.saved?.crow?.threshold_percent ?? 0)
  /** Largest crow the hinges allow. */
  most: number = $derived(this.plan.page?.most_deg ?? 40)

  /** Why what is moved is not saved; empty where it is. */
  locked: string = $derived.by(() => {
    if (live.readOnly) return 'You look on as a guest: what you move is shown here and not saved.'
    if (place.plan === null)
      return 'The plane as it is now has no plan to save to: what you move is shown only. Compute a plan on the bench page, then move it here.'
    if (place.plan.frozen_on !== null)
      return 'This plan is frozen: what you move is shown only. Choose another plan above, or make this one the plane\u2019s own on the bench page.'
    return ''
  })

  constructor() {
    $effect(() => {
      const draft = place.draft
      const timer = setTimeout(() => (this.rested = draft), REST_MS)
      return () => clearTimeout(timer)
    })
    $effect(() => () => {
      place.draft = null
    })
  }

  move(changes: PlanChanges): void {
    const draft = { ...place.draft, ...changes }
    if (this.saved !== null && this.saved.crow === null && (changes.angle_deg ?? 0) > 0) draft.crow = true
    place.draft = draft
  }

  /** Crow of a size, with the split as it is. */
  moveAngle(angle_deg: number): void {
    if (place.draft?.upper_deg != null || place.draft?.lower_deg != null) this.moveSplit(this.split, angle_deg)
    else this.move({ angle_deg })
  }

  moveSplit(split: number, angle: number = this.angle): void {
    const crow = this.saved?.crow
    if (!crow || crow.upper_deg === null || crow.lower_deg === null) return
    const upper = angle * (split < 0 ? 1 + split / 100 : 1) * (crow.upper_deg < 0 ? -1 : 1)
    const lower = angle * (split > 0 ? 1 - split / 100 : 1) * (crow.lower_deg < 0 ? -1 : 1)
    const { angle_deg: _dropped, ...rest } = place.draft ?? {}
    place.draft = { ...rest, upper_deg: upper, lower_deg: lower }
  }

  /** The hand lets go: saved where the plan can be changed, else it stays on show with the reason. */
  async keep(): Promise<void> {
    const draft = place.draft
    const { plane, plan, args } = place
    if (draft === null || plane === null || plan === null || args === null || this.locked !== '') return
    const done = await live.try({ what: 'plan.set', plane: plane.file, file: plan.file, changes: draft })
    if (done) {
      // The saved plan comes first, then the draft goes: nothing jumps back in between.
      try {
        const page = await live.ask('plan', args, { channel: 'plan just kept' })
        // A newer saving of the same draft is under way: it takes the draft away when its plan has come.
        if (page === null) return
        this.plan.page = page
      } catch {
        // The page's own question tells it.
      }
    }
    if (place.draft === draft) place.draft = null
  }

  drop(): void {
    place.draft = null
  }
}
