// Topics and the pages that answer them; everything else is generated.
import type {
  Ask,
  BenchPage,
  ComparePage,
  Do,
  Done,
  Dropped,
  FolderMoved,
  Hello,
  KinematicsPage,
  MarchPage,
  PlaneView,
  PlanView,
  PredictPage,
  Progress,
  QuickPage,
  Refused,
  RigPage,
  ShaftPicturePage,
  SheetAnswer,
  SpeedMapPage,
  StickPicturePage,
  TunePage,
} from './generated/pages'

export interface TopicPages {
  plane: PlaneView
  plan: PlanView
  quick: QuickPage
  predict: PredictPage
  tune: TunePage
  map: SpeedMapPage
  shaft: ShaftPicturePage
  stick: StickPicturePage
  march: MarchPage
  kinematics: KinematicsPage
  bench: BenchPage
  rig: RigPage
  sheet: SheetAnswer
  compare: ComparePage
}

export type Topic = keyof TopicPages
export type AskArgs = Omit<Ask, 'kind' | 'seq' | 'topic' | 'channel'>
export type Action = Do['action']

export interface Answer {
  kind: 'answer'
  seq: number
  topic: Topic
  body: unknown
}

export type Incoming = Hello | FolderMoved | Progress | Dropped | Done | Refused | Answer

/** What stands in the way of an answer: the reason in words and every fault. */
export class Refusal extends Error {
  readonly faults: Refused['faults']

  constructor(words: string, faults: Refused['faults'] = []) {
    super(words)
    this.faults = faults
  }
}
