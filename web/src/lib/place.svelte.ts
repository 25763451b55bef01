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
    const found: unknown = JSON.parse(localStorage.getItem(KEPT) ?? '{}')
    return typeof found === 'object' && found !== null ? found : {}
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

  #planeFile = $derived(this.plane?.file ?? null)
  #planFile = $derived(this.plan?.file ?? null)

  /** Plane, plan and air as every ask names them: the same object until one of them is another. */
  args: AskArgs | null = $derived.by(() => {
    if (this.#planeFile === null) return null
    return { plane: this.#planeFile, plan: this.#planFile, air: this.air }
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
    // The plane first shown stays, though another comes to stand before it in the folder.
    let held = false
    $effect.root(() => {
      $effect(() => {
        if (held || this.plane === null) return
        held = true
        this.wantedPlane = this.plane.file
      })
    })
  }

  go(question: Question): void {
    location.hash = `#/${question}`
  }

  choosePlane(file: string): void {
    if (file === this.wantedPlane) return
    this.wantedPlane = file
    this.wantedPlan = undefined
    this.draft = null
    this.#keep()
  }

  choosePlan(file: string | null): void {
    if (file === this.wantedPlan) return
    this.wantedPlan = file
    this.draft = null
    this.#keep()
  }

  setAir(air: AirAsk): void {
    if (JSON.stringify(air) === JSON.stringify(this.air)) return
    this.air = air
    this.#keep()
  }

  /** `#/question`, or `#/question?plane=file`, which is shortened once it is read. */
  #read(): void {
    const [asked, query] = location.hash.replace(/^#\//, '').split('?')
    this.question = QUESTIONS.find((question) => question === asked) ?? 'plane'
    const plane = new URLSearchParams(query ?? '').get('plane')
    if (plane) this.choosePlane(plane)
    if (query !== undefined) history.replaceState(null, '', `#/${this.question}`)
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
