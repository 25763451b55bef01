// Where the pilot is: question, plane, plan and air. In the address and kept for the next visit.
import type { AskArgs } from './contract'
import type { AirAsk, PlanChanges, PlanEntry, PlaneEntry } from './generated/pages'
import { live } from './live.svelte'

export const QUESTIONS = ['plane', 'bench', 'lines', 'flights', 'sheets'] as const
export type Question = (typeof QUESTIONS)[number]

const KEPT = 'evenfall.place'

interface Kept {
  plane?: string
  plan?: string | null
  air?: AirAsk
}

function kept(): Kept {
  try {
    return JSON.parse(localStorage.getItem(KEPT) ?? '{}') as Kept
  } catch {
    return {}
  }
}

class Place {
  question = $state<Question>('plane')
  /** Chosen plane file; empty before the folder is known. */
  wantedPlane = $state('')
  /** Chosen plan file; null: the plane as it is now; undefined: the plane's own. */
  wantedPlan = $state<string | null | undefined>(undefined)
  air = $state.raw<AirAsk>({})
  /** Changes of the plan under the hand, not saved yet. */
  draft = $state.raw<PlanChanges | null>(null)

  plane: PlaneEntry | null = $derived.by(() => {
    const planes = live.folder?.planes ?? []
    return planes.find((entry) => entry.file === this.wantedPlane) ?? planes[0] ?? null
  })

  plan: PlanEntry | null = $derived.by(() => {
    if (this.plane === null || this.wantedPlan === null) return null
    const mine = this.plane.plans
    const file = this.wantedPlan !== undefined && mine.includes(this.wantedPlan) ? this.wantedPlan : mine[0]
    return live.folder?.plans.find((entry) => entry.file === file) ?? null
  })

  /** Plane, plan and air as every ask names them. */
  args: AskArgs | null = $derived.by(() => {
    if (this.plane === null) return null
    return { plane: this.plane.file, plan: this.plan?.file ?? null, air: this.air }
  })

  /** Changes with every saved change of plane and plan. */
  revision: string = $derived(`${this.plane?.file}:${this.plane?.revision}/${this.plan?.file}:${this.plan?.revision}`)

  start(): void {
    const before = kept()
    this.wantedPlane = before.plane ?? ''
    this.wantedPlan = before.plan
    this.air = before.air ?? {}
    this.#read()
    window.addEventListener('hashchange', () => this.#read())
  }

  go(question: Question): void {
    location.hash = `#/${question}`
  }

  choosePlane(file: string): void {
    this.wantedPlane = file
    this.wantedPlan = undefined
    this.draft = null
    this.#keep()
  }

  choosePlan(file: string | null): void {
    this.wantedPlan = file
    this.draft = null
    this.#keep()
  }

  setAir(air: AirAsk): void {
    this.air = air
    this.#keep()
  }

  #read(): void {
    const asked = location.hash.replace(/^#\//, '').split('?')[0]
    this.question = QUESTIONS.find((question) => question === asked) ?? 'plane'
    const plane = new URLSearchParams(location.hash.split('?')[1] ?? '').get('plane')
    if (plane) this.choosePlane(plane)
  }

  #keep(): void {
    try {
      localStorage.setItem(KEPT, JSON.stringify({ plane: this.wantedPlane, plan: this.wantedPlan, air: this.air }))
    } catch {
      // Not kept: the choice still holds for this page.
    }
  }
}

export const place = new Place()
