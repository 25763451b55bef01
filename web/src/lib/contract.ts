// Topics and the pages that answer them; everything else is generated.
import type {
  Ask,
  BenchPage,
  CardPage,
  CarryPage,
  ClickedPage,
  ComparePage,
  DiagnosePage,
  Do,
  Done,
  Dropped,
  EvennessPage,
  FlightFormPage,
  FlyPage,
  FolderMoved,
  Hello,
  KinematicsPage,
  LearnPage,
  LogPage,
  MarchPage,
  PlaneView,
  PlanView,
  PredictPage,
  Progress,
  QuickPage,
  Refused,
  RigPage,
  SeasonPage,
  ShaftPicturePage,
  SheetAnswer,
  SoundPage,
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
  season: SeasonPage
  flight: FlightFormPage
  learn: LearnPage
  diagnose: DiagnosePage
  card: CardPage
  log: LogPage
  sound: SoundPage
  clicked: ClickedPage
  fly: FlyPage
  carry: CarryPage
  programme: EvennessPage
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
