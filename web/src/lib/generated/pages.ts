// Made from schema.json by `npm run types`: not edited by hand.

export interface Pages {}
/**
 * The air to compute in.
 */
export interface AirAsk {
  /**
   * Height of the field.
   */
  elevation_m?: number
  /**
   * At the field. Null: standard.
   */
  pressure_hpa?: number | null
  /**
   * Null: standard.
   */
  temperature_c?: number | null
}
/**
 * The air a page was computed for.
 */
export interface AirPage {
  /**
   * Density.
   */
  density_kg_m3: number
  /**
   * Pressure at the field.
   */
  pressure_hpa: number
  /**
   * Temperature, degrees Celsius.
   */
  temperature_c: number
}
/**
 * One aileron's arm, rod and horn. Angles of the arm from square to its rod, pushing (pin aft) positive.
 */
export interface ArmPage {
  /**
   * Hole of the servo arm, radius.
   */
  arm_mm: number
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * The arm stands on the side away from the horn.
   */
  crossed: boolean
  /**
   * Arm with crow fully out.
   */
  crow_deg: number
  /**
   * Surface with crow fully out, trailing edge down positive.
   */
  crow_surface_deg: number
  /**
   * Servo axis to hinge line along the chord.
   */
  distance_mm: number
  /**
   * Servo axis beyond the hinge line towards the horn's side.
   */
  height_mm: number
  /**
   * The horn stands on the upper side.
   */
  horn_above: boolean
  /**
   * Hole of the horn, hinge line to pin.
   */
  horn_mm: number
  /**
   * Servo turn left to these ends, trim included.
   *
   * @minItems 2
   * @maxItems 2
   */
  left_deg: [number, number]
  /**
   * What ends it there.
   *
   * @minItems 2
   * @maxItems 2
   */
  limit_words: [string, string]
  /**
   * Where the travel ends.
   *
   * @minItems 2
   * @maxItems 2
   */
  limits_deg: [number, number]
  /**
   * Arm with the surface at neutral.
   */
  offset_deg: number
  /**
   * Which arm of the servo horn carries the rod; null as above.
   */
  rod_on_arm: number | null
  /**
   * Horn pin aft of the hinge line with the surface at neutral.
   */
  setback_mm: number
  /**
   * What makes that shift; empty as above.
   */
  shift_by: string
  /**
   * Neutral pulse less centre pulse; null as above.
   */
  shift_us: number | null
  /**
   * Arm square to its rod, from the chord's normal, pin aft positive.
   */
  square_deg: number
  /**
   * Least and greatest arm angle of any phase.
   *
   * @minItems 2
   * @maxItems 2
   */
  sweep_deg: [number, number]
  /**
   * Teeth from square, pushing positive; null where the plan does not say.
   */
  teeth: number | null
}
/**
 * Compute something; changes nothing.
 */
export interface Ask {
  air?: AirAsk
  /**
   * map: another arrangement than the plan's.
   */
  arrangement?: string | null
  /**
   * Changes of the plan not saved yet.
   */
  changes?: PlanChanges | null
  /**
   * Asks of one channel replace each other; empty is the topic.
   */
  channel?: string
  /**
   * Plane keys not saved yet, dotted path.
   */
  edits?: {
    [k: string]: boolean | number | string | [number, number] | null
  }
  /**
   * march: entry speed; null: wanted.
   */
  entry_m_s?: number | null
  /**
   * stick: flown inverted.
   */
  inverted?: boolean
  kind: 'ask'
  /**
   * march: which of the five lines.
   */
  line?: string
  /**
   * compare: the second side.
   */
  other?: Other | null
  /**
   * Plan file; null is the plane as it is now.
   */
  plan?: string | null
  /**
   * Plane file in the folder.
   */
  plane: string
  /**
   * Counts up in one connection; the answer repeats it.
   */
  seq: number
  /**
   * What is asked.
   */
  topic:
    | 'plane'
    | 'plan'
    | 'quick'
    | 'predict'
    | 'tune'
    | 'map'
    | 'shaft'
    | 'stick'
    | 'march'
    | 'kinematics'
    | 'bench'
    | 'rig'
    | 'sheet'
    | 'compare'
  /**
   * kinematics, rig: arms square to their rods.
   */
  without_offset?: boolean
}
/**
 * Changes of a plan; what is null stays.
 */
export interface PlanChanges {
  /**
   * The larger of the two wings' angles; the other keeps its share.
   */
  angle_deg?: number | null
  arrangement?: ('up/down' | 'down/up' | 'both up' | 'both down') | null
  corners?: {
    [k: string]: CornerChanges
  }
  /**
   * False takes crow away, true gives it back.
   */
  crow?: boolean | null
  curve?: [number, number][] | null
  elevator_share?: number | null
  /**
   * Motor-brake level.
   */
  level?: string | null
  lower_deg?: number | null
  phases?: {
    [k: string]: PhaseChanges
  }
  /**
   * Stretches the curve to a new threshold.
   */
  threshold_percent?: number | null
  throttle_curve?: [number, number][] | null
  upper_deg?: number | null
}
/**
 * Changes of how one aileron is fitted.
 */
export interface CornerChanges {
  arm?: number | null
  arm_hole_mm?: number | null
  horn_hole_mm?: number | null
  shift_us?: number | null
  teeth?: number | null
}
/**
 * Changes of one phase.
 */
export interface PhaseChanges {
  aileron_deg?: number | null
  aileron_exponential_percent?: number | null
  crow_live?: boolean | null
  elevator_deg?: number | null
  elevator_exponential_percent?: number | null
  roll_boost_percent?: number | null
  rudder_deg?: number | null
  rudder_exponential_percent?: number | null
}
/**
 * The second side of a comparison.
 */
export interface Other {
  /**
   * Plan file; null is the plane as it is now.
   */
  plan?: string | null
  /**
   * Plane file.
   */
  plane: string
}
/**
 * Answer of `bench`.
 */
export interface BenchPage {
  /**
   * Before anything is switched on.
   */
  cautions: string[]
  /**
   * How every aileron is fitted and which way it goes.
   */
  corners: FittedPage[]
  /**
   * Where the tolerance comes from and what an error costs.
   */
  error_costs: string
  /**
   * Throttle ends, closed band, motor brake, switches: in order.
   */
  motor: string[]
  /**
   * What the list had to assume.
   */
  notes: string[]
  /**
   * What must be shown, phase by phase.
   */
  phases: BenchPhasePage[]
  /**
   * Which plan.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * What the readings say; null without readings.
   */
  proof: ProofPage | null
  /**
   * How sides and signs are meant.
   */
  view: string
}
/**
 * How one corner is fitted and which way it goes.
 */
export interface FittedPage {
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * Holes, teeth and offset of the arm; empty where the plan does not say.
   */
  fitted: string
  /**
   * Which way it goes with stick, crow and pulse.
   */
  signs: string[]
}
/**
 * One phase of the list.
 */
export interface BenchPhasePage {
  /**
   * Whether the throttle stick moves crow.
   */
  crow_live: boolean
  /**
   * As the plan calls it.
   */
  name: string
  /**
   * Positions in the order of checking.
   */
  positions: PositionPage[]
  /**
   * An earlier phase whose ailerons and crow do the same; null if none.
   */
  same_as: string | null
}
/**
 * One position of the sticks.
 */
export interface PositionPage {
  /**
   * Aileron stick, -100 left to 100 right.
   */
  aileron_percent: number
  /**
   * What each aileron must show, trailing edge down positive.
   */
  angle_deg: {
    [k: string]: number
  }
  /**
   * Ailerons whose travel ends before this position.
   */
  at_limit: string[]
  /**
   * How far crow is out, 0 to 100.
   */
  crow_out_percent: number
  /**
   * What the elevator must show; null where it is not looked at.
   */
  elevator_deg: number | null
  /**
   * Elevator stick, -100 pushed to 100 pulled.
   */
  elevator_percent: number
  /**
   * The position in words.
   */
  position: string
  /**
   * Pulse each servo gets; empty without servos in the plane file.
   */
  pulse_us: {
    [k: string]: number
  }
  /**
   * Throttle stick, 0 closed to 100 full.
   */
  throttle_percent: number
  /**
   * How far the mean of two readings may be from it.
   */
  within_deg: number
}
/**
 * What the readings say about the plane.
 */
export interface ProofPage {
  /**
   * Every measured aileron.
   */
  corners: CornerProofPage[]
  /**
   * What must not fly, one sentence each, worst first.
   */
  do_not_fly: string[]
  /**
   * The elevator; null where it was not measured.
   */
  elevator: ElevatorPage | null
  /**
   * Everything was measured and is good enough.
   */
  good: boolean
  /**
   * What counts as good enough.
   */
  good_enough_when: string
  /**
   * Aileron stick that holds what crow rolls by itself, right roll positive; null where not known.
   */
  lean_percent: number | null
  /**
   * One sigma of it.
   */
  lean_spread_percent: number
  /**
   * Ailerons without readings.
   */
  missing: string[]
  /**
   * What the readings cannot show, and readings left out.
   */
  notes: string[]
  /**
   * Every reading against the list.
   */
  readings: ReadingPage[]
  /**
   * Change of the plane's roll throw with crow out.
   */
  roll_percent: number
  /**
   * The whole in one or two sentences.
   */
  verdict: string
}
/**
 * What the readings say about one aileron.
 */
export interface CornerProofPage {
  /**
   * Neutral off by, at the surface.
   */
  centre_deg: number
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * The fault exactly, or as planned.
   */
  fault: string
  /**
   * Its kind, one of the keys of probability.
   */
  fault_kind: string
  /**
   * Servo turn against planned, 1 as planned.
   */
  gain: number
  /**
   * Whether the readings fix centre, gain, offset and play; else the value rests on the plan.
   *
   * @minItems 4
   * @maxItems 4
   */
  measured: [boolean, boolean, boolean, boolean]
  /**
   * Arm offset against planned, degrees of arm.
   */
  offset_deg: number
  /**
   * Probability of every kind of fault, 0 to 1.
   */
  probability: {
    [k: string]: number
  }
  /**
   * Pulse to add at neutral to centre the surface, microseconds.
   */
  pulse_us: number
  /**
   * What to do; empty where nothing.
   */
  remedy: string
  /**
   * Change of its roll throw with crow out.
   */
  roll_cost_percent: number
  /**
   * Play at the trailing edge, degrees peak to peak.
   */
  slop_deg: number
  /**
   * One sigma of centre (degrees), gain, offset (degrees) and play (degrees).
   *
   * @minItems 4
   * @maxItems 4
   */
  spread: [number, number, number, number]
  /**
   * How sure the fault is, in words with a space before; empty where not weighed.
   */
  sure: string
  /**
   * Teeth to turn the arm on its spline, pushing positive.
   */
  teeth: number
  /**
   * What it is and what it costs.
   */
  text: string
  /**
   * "good enough", "put right" or "DO NOT FLY".
   */
  verdict: string
}
/**
 * The elevator's share with crow.
 */
export interface ElevatorPage {
  /**
   * It moves the wrong way.
   */
  do_not_fly: boolean
  /**
   * Good enough.
   */
  good: boolean
  /**
   * As measured; null where not measured with crow in and out.
   */
  got_deg: number | null
  /**
   * In words.
   */
  text: string
  /**
   * Change from crow in to crow out.
   */
  wanted_deg: number
}
/**
 * One reading against the list.
 */
export interface ReadingPage {
  /**
   * Aileron stick, right positive.
   */
  aileron_percent: number
  /**
   * Line of the file.
   */
  line: number | null
  /**
   * Phase.
   */
  phase: string
  /**
   * As read.
   */
  read_deg: number
  /**
   * What was measured.
   */
  surface: string
  /**
   * Throttle stick.
   */
  throttle_percent: number
  /**
   * What the list wants.
   */
  wanted_deg: number
  /**
   * Within the tolerance of the mean of two readings.
   */
  within: boolean
}
/**
 * Measured angles of one bench position; null takes a reading away.
 */
export interface BenchRead {
  aileron_percent: number
  angles_deg: {
    [k: string]: number | null
  }
  elevator_percent?: number
  phase: string
  plan: string
  plane: string
  throttle_percent: number
  what: 'bench.read'
}
/**
 * Stop working on an ask.
 */
export interface Cancel {
  channel: string
  kind: 'cancel'
}
/**
 * One motor-brake level with one arrangement.
 */
export interface CandidatePage {
  /**
   * Upper/lower wing.
   */
  arrangement: string
  /**
   * The level on the scale 0 to 100.
   */
  brake_percent: number
  /**
   * Size of the crow with its spread, degrees; null without a speed.
   */
  crow: Spreading | null
  crow_deg: CrowAngles
  /**
   * Bend of the vertical added by crow before any cure.
   */
  curvature_deg_s: number | null
  /**
   * Vertical down speed with this crow.
   */
  down_speed_m_s: number | null
  /**
   * Chance that doubt of the brake puts this level among two shaft states.
   */
  fold_probability: number
  /**
   * Name of the level.
   */
  level: string
  /**
   * Distance to the nearest fold, percent of brake; null where there is none.
   */
  margin: number | null
  /**
   * One sigma of the margin, percent of brake; null without one.
   */
  margin_spread: number | null
  /**
   * Change of down speed for 5 percent more brake.
   */
  per_5_brake_m_s: number | null
  /**
   * Change of down speed for one more degree of crow.
   */
  per_degree_m_s: number | null
  /**
   * Speed with most and with no crow.
   */
  reach_m_s: [number, number] | null
  /**
   * Section part of roll retention at normal throw.
   */
  roll_retention: number | null
  /**
   * Stable shaft states at the wanted speed.
   */
  shaft_states: number
  /**
   * Down speed with its spread, m/s; null without one.
   */
  speed: Spreading | null
  /**
   * Where it stands.
   */
  verdict: 'chosen' | 'usable' | 'fickle' | 'refused'
  /**
   * The reason in words.
   */
  why: string
}
/**
 * A number with its spread.
 */
export interface Spreading {
  /**
   * The largest causes of the spread, largest first.
   */
  causes?: Cause[]
  /**
   * One sigma in the same unit; null where it was not computed.
   */
  spread: number | null
  /**
   * Best estimate, in the unit of the key that holds it.
   */
  value: number
}
/**
 * One cause of a spread.
 */
export interface Cause {
  /**
   * What measuring it would buy.
   */
  buys?: string | null
  /**
   * The uncertain input, in the pilot's words.
   */
  name: string
  /**
   * Its share of the variance, 0 to 1.
   */
  share: number
}
/**
 * Angles fully deployed, degrees, trailing edge down positive; null where the wing has no ailerons.
 */
export interface CrowAngles {
  /**
   * Lower wing.
   */
  lower: number | null
  /**
   * Upper wing.
   */
  upper: number | null
}
/**
 * The chosen level and crow on the map.
 */
export interface ChosenPage {
  /**
   * Motor brake that holds like it: its percent unless it was measured.
   */
  brake_percent: number
  /**
   * Motor brake within one sigma of its torque.
   *
   * @minItems 2
   * @maxItems 2
   */
  brake_range_percent: [number, number]
  /**
   * Crow fully deployed.
   */
  crow_deg: number
  /**
   * Crow that changes the drag by one sigma of its doubt (crow, body and parts, propeller).
   *
   * @minItems 2
   * @maxItems 2
   */
  crow_range_deg: [number, number]
  /**
   * Name of the level.
   */
  level: string
  /**
   * Stable down speed nearest to the wanted one; null without one.
   */
  speed_m_s: number | null
  /**
   * One sigma of it; null where it was not computed.
   */
  spread_m_s: number | null
  /**
   * Every steady speed there.
   */
  states: MapState[]
}
/**
 * One steady speed of a condition.
 */
export interface MapState {
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number
  /**
   * Down speed.
   */
  speed_m_s: number
  /**
   * True where speed and shaft speed return after a disturbance.
   */
  stable: boolean
  /**
   * Thrust; negative where the propeller brakes.
   */
  thrust_n: number
}
/**
 * Answer of topic `compare`.
 */
export interface ComparePage {
  /**
   * Speeds, sticks and rolls that differ, with their difference.
   */
  behaviour: DiffRow[]
  mine: QuickPage
  other: QuickPage
  /**
   * Facts of the planes that differ; empty for one plane.
   */
  plane: DiffRow[]
  /**
   * Settings that differ.
   */
  settings: DiffRow[]
}
/**
 * One setting that differs.
 */
export interface DiffRow {
  /**
   * Here, rounded as on the bench.
   */
  mine: string
  /**
   * There.
   */
  other: string
  /**
   * The setting in words.
   */
  what: string
}
/**
 * Answer of topic `quick`.
 */
export interface QuickPage {
  /**
   * Motor brake that holds like the level: its percent unless measured.
   */
  brake_percent: number
  /**
   * Force gained where the motor comes free of the closed band.
   */
  brake_step_n: number
  /**
   * End of the closed band.
   */
  closed_below_percent: number
  /**
   * Size of the crow, degrees; 0 without.
   */
  crow_deg: number
  /**
   * Air.
   */
  density_kg_m3: number
  /**
   * The five lines, vertical down first.
   */
  lines: QuickLine[]
  /**
   * What is flown.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Stick at which the motor starts again.
   */
  start_percent: number
  /**
   * Stick where deployment begins; null without crow.
   */
  threshold_percent: number | null
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
  /**
   * Holding stick over slope.
   */
  with_crow: StickPoint[]
  /**
   * The same plan without crow.
   */
  without_crow: StickPoint[]
  /**
   * What to watch, in words.
   */
  words: string[]
}
/**
 * One line of a plan, without spreads.
 */
export interface QuickLine {
  /**
   * What stands in the way, in words; empty where nothing.
   */
  remark: string
  shares: LineShares
  /**
   * Every steady state at that stick, slowest first.
   */
  states: MapState[]
}
/**
 * Who holds against the flight on one line.
 */
export interface LineShares {
  /**
   * The line.
   */
  name: string
  /**
   * Airframe, crow and propeller; null without a steady speed.
   */
  shares_n: DragShares | null
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * Steady speed most entries end in; null without one.
   */
  speed_m_s: number | null
  /**
   * ok, or what stands in the way.
   */
  status: string
  /**
   * Stick it is flown with.
   */
  stick_percent: number
  /**
   * Weight along the path, pulling down the line positive.
   */
  weight_along_n: number
}
/**
 * Forces against the flight on a steady line, N.
 */
export interface DragShares {
  /**
   * Clean aeroplane.
   */
  airframe: number
  /**
   * Added by deployment.
   */
  crow: number
  /**
   * Propeller; negative where it pulls.
   */
  propeller: number
}
/**
 * Holding stick at one slope.
 */
export interface StickPoint {
  /**
   * Deployment at that stick.
   */
  deployment_percent: number
  /**
   * Force along the path left over there; null where stalled.
   */
  left_over_n: number | null
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * ok, or what stands in the way.
   */
  status: string
  /**
   * Stick, or the nearest end where no stick holds the wanted speed.
   */
  stick_percent: number
}
/**
 * The line of one down speed.
 */
export interface ContourPage {
  /**
   * Pieces of points: motor brake percent, crow degrees. They end where a propeller state ends and may pass the edges of the map a little.
   */
  pieces: [number, number][][]
  /**
   * The down speed.
   */
  speed_m_s: number
}
/**
 * What one corner keeps with crow out.
 */
export interface CornerOut {
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * Roll throw deployed over stowed at equal stick, normal phase.
   */
  kept_normal: number | null
  /**
   * The same at snap throw.
   */
  kept_snap: number | null
  /**
   * Least servo turn left in any phase; negative where it breaks.
   */
  left_deg: number
  /**
   * Arm offset.
   */
  offset_deg: number
  /**
   * Largest torque over stall torque; null if unknown.
   */
  servo_load: number | null
  /**
   * Phase and limit where that is.
   */
  tightest: string
}
/**
 * One aileron: how it is fitted, what it does, what is set.
 */
export interface CornerPage {
  /**
   * Centre shift of the channel, percent of its travel.
   */
  centre_shift_percent: number | null
  /**
   * Wing and side as seen from behind.
   */
  corner: string
  /**
   * Angle fully deployed, degrees, trailing edge down positive.
   */
  crow_deg: number
  /**
   * Share of the travel at each point of the deployment curve.
   */
  crow_percent: number[]
  /**
   * End limits, us.
   */
  ends_us: [number, number] | null
  /**
   * Holes, teeth, pulse shift and offset in words; empty where the plan says nothing.
   */
  fit: string
  /**
   * Pulse with the surface at neutral, us.
   */
  neutral_us: number | null
  /**
   * Coarsest step of the surface for one step of the pulse, degrees.
   */
  resolution_deg: number
  /**
   * Roll throw deployed over stowed at the same stick, normal throw.
   */
  roll_kept: number
  /**
   * Share of the travel at full right stick, by phase.
   */
  roll_percent: {
    [k: string]: number
  }
  /**
   * Largest torque over stall torque, supply sagged; null if unknown.
   */
  servo_load: number | null
  /**
   * One sigma of the load; null if unknown.
   */
  servo_load_spread: number | null
  /**
   * Which way it goes with the stick, with crow, with a longer pulse.
   */
  signs: string[]
  /**
   * Phase and limit where that is.
   */
  tightest: string
  /**
   * Least servo turn left in any phase, degrees; negative where it breaks.
   */
  travel_left_deg: number
}
/**
 * Crow as in the plan file.
 */
export interface CrowPage {
  /**
   * Upper/lower wing.
   */
  arrangement: string
  /**
   * Points: stick percent, deployment percent.
   */
  curve: [number, number][]
  /**
   * Elevator angle over crow angle, trailing edge down positive.
   */
  elevator_share: number
  /**
   * Lower wing fully deployed, trailing edge down positive.
   */
  lower_deg: number | null
  /**
   * Stick where deployment begins.
   */
  threshold_percent: number
  /**
   * Upper wing fully deployed, trailing edge down positive.
   */
  upper_deg: number | null
}
/**
 * Change something.
 */
export interface Do {
  action:
    | PlaneSet
    | TextSet
    | PartAdd
    | PartDrop
    | PlanSet
    | PlanTune
    | PlanFreeze
    | PlanThaw
    | PlaneNew
    | Undo
    | Redo
    | BenchRead
  kind: 'do'
  seq: number
  /**
   * New for every action, kept on retry
   */
  token: string
}
/**
 * Write values into a plane file; comments are kept.
 */
export interface PlaneSet {
  edits: {
    [k: string]: boolean | number | string | [number, number] | null
  }
  file: string
  what: 'plane.set'
}
/**
 * Replace a whole plane or plan file by a text.
 */
export interface TextSet {
  /**
   * Revision the text was made from; refused where the file has moved on.
   */
  base: number
  file: string
  text: string
  what: 'text.set'
}
/**
 * Add a part that drags, or take the one at `index` away.
 */
export interface PartAdd {
  file: string
  part: 'wheel' | 'wire' | 'strut' | 'cowl opening' | 'area'
  what: 'part.add'
}
/**
 * Take away the part at `index` of the file's drag tables.
 */
export interface PartDrop {
  file: string
  index: number
  what: 'part.drop'
}
/**
 * Change a plan file.
 */
export interface PlanSet {
  changes: PlanChanges
  file: string
  plane: string
  what: 'plan.set'
}
/**
 * Compute the plan and write it; a candidate of the ranking may be chosen instead of the best.
 */
export interface PlanTune {
  air?: AirAsk
  arrangement?: string | null
  /**
   * Null: the plane's own plan file.
   */
  file?: string | null
  level?: string | null
  plane: string
  what: 'plan.tune'
}
/**
 * Keep a copy of a plan under a name; a frozen plan is never changed.
 */
export interface PlanFreeze {
  file: string
  label: string
  plane: string
  what: 'plan.freeze'
}
/**
 * Make a frozen plan the plane's own plan again.
 */
export interface PlanThaw {
  file: string
  plane: string
  what: 'plan.thaw'
}
/**
 * A new plane file from the commented template or a copy of another.
 */
export interface PlaneNew {
  name: string
  /**
   * Plane file to copy; null: the template.
   */
  source?: string | null
  what: 'plane.new'
}
/**
 * Take back the last change of a file.
 */
export interface Undo {
  file: string
  what: 'undo'
}
/**
 * Do again what was taken back.
 */
export interface Redo {
  file: string
  what: 'redo'
}
/**
 * An action was carried out and its file saved.
 */
export interface Done {
  file: string
  kind?: 'done'
  revision: number
  seq: number
  /**
   * What was done.
   */
  words: string
}
/**
 * A newer ask of the channel came, or it was cancelled.
 */
export interface Dropped {
  kind?: 'dropped'
  seq: number
}
/**
 * Something that follows from the measurements.
 */
export interface FactPage {
  /**
   * Why it matters, in a sentence; empty where plain.
   */
  meaning: string
  /**
   * What.
   */
  name: string
  /**
   * Rounded, with unit.
   */
  value: string
}
/**
 * One way of storing failsafe.
 */
export interface FailsafePage {
  /**
   * Where the crow is.
   */
  crow: string
  /**
   * Hold, closed pulse, captured closed or no pulse.
   */
  kind: string
  /**
   * What the motor does.
   */
  motor: string
  /**
   * False where the motor may go on running.
   */
  motor_acceptable: boolean
  /**
   * The one to use where the receiver can.
   */
  recommended: boolean
  /**
   * What to store.
   */
  store: string
  /**
   * How to test it, propeller off.
   */
  test: string
  /**
   * What the plane does.
   */
  what: string
}
/**
 * One fault of a file.
 */
export interface FaultPage {
  /**
   * Line of the file, from 1; null for a missing key.
   */
  line: number | null
  /**
   * Dotted key; empty for the file as a whole.
   */
  where: string
  /**
   * What came, what is allowed, what to do.
   */
  words: string
}
/**
 * One table of the plane file.
 */
export interface FieldGroup {
  /**
   * Its measurements.
   */
  fields: FieldPage[]
  /**
   * Dotted key of the table.
   */
  key: string
  /**
   * drag: one entry of a list that can be taken away.
   */
  part: '' | 'drag'
  /**
   * In words.
   */
  title: string
}
/**
 * One measurement of the plane file.
 */
export interface FieldPage {
  /**
   * What measuring it would buy; null where it is not guessed.
   */
  buys: string | null
  /**
   * Allowed words of a choice.
   */
  choices: string[]
  /**
   * What is wrong with it and what to do; null where nothing.
   */
  fault: string | null
  /**
   * The file holds the key.
   */
  given: boolean
  /**
   * What stands in for it, in words; null where nothing does.
   */
  guess: string | null
  /**
   * Key of the help text; empty without one.
   */
  help: string
  /**
   * How to measure it.
   */
  how: string | null
  /**
   * What is entered.
   */
  kind: 'number' | 'text' | 'choice' | 'yes/no' | 'list'
  /**
   * What is measured, in the pilot's words.
   */
  label: string
  /**
   * Other key endings the file may use.
   */
  other_units: string[]
  /**
   * Dotted key in the file, unit included; drag.0.diameter_mm for lists.
   */
  path: string
  /**
   * The plane cannot be used without it.
   */
  required: boolean
  /**
   * Where the spread comes from.
   */
  source: 'stated' | 'measured' | 'guess' | 'none'
  /**
   * One sigma in the same unit; null where unknown.
   */
  spread: number | null
  /**
   * Unit as shown; empty without one.
   */
  unit: string
  /**
   * As in the file, or null; lists as text with commas.
   */
  value: number | boolean | string | null
}
/**
 * The folder or a file in it has changed, by whom ever.
 */
export interface FolderMoved {
  folder: FolderPage
  kind?: 'folder'
}
/**
 * The pilot's folder.
 */
export interface FolderPage {
  /**
   * Where it is.
   */
  folder: string
  /**
   * What to know, for example that a file was changed by another program.
   */
  notes: string[]
  /**
   * Plane files.
   */
  planes: PlaneEntry[]
  /**
   * Plan files.
   */
  plans: PlanEntry[]
  /**
   * Address for the local network; null where not shared.
   */
  shared: string | null
}
/**
 * A plane file of the folder.
 */
export interface PlaneEntry {
  /**
   * Name of the file.
   */
  file: string
  /**
   * Name of the plane; the file's where it cannot be read.
   */
  name: string
  /**
   * Name of the plane's own plan file, there or not.
   */
  own_plan: string
  /**
   * Plan files made for it, its own first where it is there.
   */
  plans: string[]
  /**
   * What redo would do; null where nothing.
   */
  redo: string | null
  /**
   * Counts up with every change.
   */
  revision: number
  /**
   * What undo would take back; null where nothing.
   */
  undo: string | null
  /**
   * Read without faults.
   */
  usable: boolean
}
/**
 * A plan file of the folder.
 */
export interface PlanEntry {
  /**
   * Name of the file.
   */
  file: string
  /**
   * Date of freezing; null where not frozen.
   */
  frozen_on: string | null
  /**
   * What to call it.
   */
  label: string
  /**
   * Name of the plane it was made for.
   */
  plane: string
  /**
   * What redo would do; null where nothing.
   */
  redo: string | null
  /**
   * Counts up with every change.
   */
  revision: number
  /**
   * As computed, changed by hand, or kept for good.
   */
  state: 'tuned' | 'edited' | 'frozen'
  /**
   * What undo would take back; null where nothing.
   */
  undo: string | null
  /**
   * Read without faults.
   */
  usable: boolean
}
/**
 * A number the file lacks, best buy first.
 */
export interface GuessPage {
  /**
   * What measuring it would buy.
   */
  buys: string
  /**
   * How to measure it.
   */
  how: string
  /**
   * Key that would give it.
   */
  path: string
  /**
   * What is used instead, with its spread.
   */
  used: string
  /**
   * In words.
   */
  what: string
}
/**
 * First message of every connection.
 */
export interface Hello {
  folder: FolderPage
  kind?: 'hello'
  /**
   * A guest reads everything and writes forms only.
   */
  role: 'owner' | 'guest'
  /**
   * New at every start of the server.
   */
  run: string
  version: string
}
/**
 * Stick at which a line of a slope is flown at the wanted speed.
 */
export interface HoldingStickPage {
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * ok, or what stands in the way.
   */
  status: string
  /**
   * The stick with its spread, percent; null on an end or in the band.
   */
  stick: Spreading | null
  /**
   * Stick; null where no stick holds the wanted speed.
   */
  stick_percent: number | null
}
/**
 * Answer of topic `kinematics`. Angles rad, lengths m, sticks -1 to 1 (throttle 0 to 1).
 */
export interface KinematicsPage {
  /**
   * Before bench work.
   */
  cautions: string[]
  /**
   * End of the closed band, 0 to 1.
   */
  closed_below: number
  /**
   * Deployment over throttle stick, 0 to 1; empty without.
   */
  curve: [number, number][]
  /**
   * Elevator added at full deployment, rad, trailing edge down positive.
   */
  elevator_crow: number
  /**
   * What each corner keeps with crow out.
   */
  kept: CornerOut[]
  /**
   * With and without offset in a sentence.
   */
  kept_words: string
  /**
   * Every described linkage; empty without.
   */
  linkages: LinkagePage[]
  /**
   * Why linkages are missing, and which keys would give them; empty where all there.
   */
  missing: string
  /**
   * Phases with throws and exponentials.
   */
  phases: PlanPhasePage[]
  /**
   * Name of the plan.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Motor command over stick, 0 to 1.
   */
  throttle_curve: [number, number][]
  /**
   * Wings with ailerons.
   */
  wings: WingMix[]
  /**
   * Arms square to their rods instead of as planned.
   */
  without_offset: boolean
}
/**
 * One aileron's linkage, SI and radians: the arguments of `evenfall.linkage.fourbar.FourBar` and of the corner.
 */
export interface LinkagePage {
  /**
   * Servo arm radius, m.
   */
  arm: number
  /**
   * Arm from square at the centre pulse, rad.
   */
  centre: number
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * The arm stands on the side away from the horn.
   */
  crossed: boolean
  /**
   * +1 where a longer pulse pushes the rod.
   */
  direction: number
  /**
   * Servo axis to hinge line along the chord, m.
   */
  distance: number
  /**
   * Servo axis beyond the hinge line towards the horn's side, m.
   */
  height: number
  /**
   * Greatest throw any limit allows, rad.
   */
  high: number
  /**
   * What ends the travel there.
   */
  high_words: string
  /**
   * Horn radius, m.
   */
  horn: number
  /**
   * The horn stands on the upper side.
   */
  horn_above: boolean
  /**
   * Least throw any limit allows, rad, trailing edge down positive.
   */
  low: number
  /**
   * What ends the travel there.
   */
  low_words: string
  /**
   * Arm from square with the surface at neutral, rad.
   */
  offset: number
  /**
   * Centre pulse, s.
   */
  pulse_centre: number
  /**
   * Rod, pin to pin, m.
   */
  rod: number
  /**
   * Servo angle per pulse, rad/s.
   */
  servo_gain: number
  /**
   * Horn pin aft of the hinge line at neutral, m.
   */
  setback: number
  /**
   * Arm angle square to its rod, from the chord's normal, rad.
   */
  square: number
  /**
   * Spanwise place of the servo, m, right positive.
   */
  y: number
}
/**
 * A phase as in the plan file. Throws either way at full stick.
 */
export interface PlanPhasePage {
  /**
   * Aileron throw, mean of up and down.
   */
  aileron_deg: number
  /**
   * Exponential of the aileron stick.
   */
  aileron_exponential_percent: number
  /**
   * Crow follows the throttle stick here.
   */
  crow_live: boolean
  /**
   * Elevator throw.
   */
  elevator_deg: number
  /**
   * Exponential of the elevator stick.
   */
  elevator_exponential_percent: number
  /**
   * take-off, normal, snap, spin, landing or other.
   */
  kind: string
  /**
   * As the pilot calls it.
   */
  name: string
  /**
   * Roll throw added at full deployment.
   */
  roll_boost_percent: number
  /**
   * Rudder throw.
   */
  rudder_deg: number
  /**
   * Exponential of the rudder stick.
   */
  rudder_exponential_percent: number
}
/**
 * Crow of one wing.
 */
export interface WingMix {
  /**
   * Angle fully deployed, rad, trailing edge down positive.
   */
  crow: number
  /**
   * upper or lower.
   */
  wing: string
}
/**
 * One level of the controller.
 */
export interface LevelPage {
  /**
   * Its place on the scale 0 to 100.
   */
  brake_percent: number
  /**
   * Its name.
   */
  name: string
}
/**
 * One line at the stick it is flown with.
 */
export interface LinePage {
  /**
   * "vertical down", "45 down", "level", "45 up" or "vertical up".
   */
  name: string
  /**
   * The status in words.
   */
  remark: string
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * ok, or what stands in the way (one of the statuses).
   */
  status: string
  /**
   * Every steady speed at that stick, slowest first.
   */
  steady: Steady[]
  /**
   * Stick: where the wanted speed is held, or the nearest end.
   */
  stick_percent: number
}
/**
 * One steady speed of a line.
 */
export interface Steady {
  drag_n: DragShares
  /**
   * Lowest and highest entry speed that ends here, of those tried; null where none does.
   */
  reached_from_m_s: [number, number] | null
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number
  speed_m_s: Spreading
  /**
   * True where speed and shaft speed return after a disturbance.
   */
  stable: boolean
}
/**
 * Crow from which on something is out of reach.
 */
export interface MapLimitPage {
  /**
   * From this crow upward.
   */
  crow_deg: number
  /**
   * Which throw is no longer there.
   */
  kind: 'snap' | 'normal'
  /**
   * The reason in words.
   */
  reason: string
  /**
   * The reason in a few words, for the picture.
   */
  short: string
}
/**
 * Answer of topic `march`: a line from its entry on.
 */
export interface MarchPage {
  /**
   * Crow really out.
   */
  deployment_percent: number[]
  /**
   * Steady speed it settles at; null where none within the time.
   */
  ends_m_s: number | null
  /**
   * Speed at entry.
   */
  entry_m_s: number
  /**
   * Height lost so far, down positive.
   */
  height_m: number[]
  /**
   * The line.
   */
  line: string
  /**
   * Other stable steady speeds that other entries end in.
   */
  others_m_s: number[]
  /**
   * Time until within 3 percent of it for good.
   */
  settled_s: number | null
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number[]
  /**
   * Its slope.
   */
  slope_deg: number
  /**
   * Speed.
   */
  speed_m_s: number[]
  /**
   * Stick it is flown with.
   */
  stick_percent: number
  /**
   * Time.
   */
  time_s: number[]
  /**
   * What happens, in a sentence.
   */
  words: string
}
/**
 * Motor choice as in the plan file.
 */
export interface MotorPage {
  /**
   * The level on the scale 0 to 100.
   */
  brake_percent: number
  /**
   * Motor-brake level.
   */
  level: string
  /**
   * Points: stick percent, command percent.
   */
  throttle_curve: [number, number][]
}
/**
 * One aileron corner as in the plan file.
 */
export interface PlanCornerPage {
  /**
   * Which arm of the horn carries the rod; 1 is the one in use.
   */
  arm: number
  /**
   * Hole of the servo arm.
   */
  arm_hole_mm: number
  /**
   * upper_left, upper_right, lower_left or lower_right.
   */
  corner: string
  /**
   * Hole of the surface horn.
   */
  horn_hole_mm: number
  /**
   * Servo turn either way for the normal throw.
   */
  normal_turn_deg: number
  /**
   * Arm from square to its rod with the surface at neutral, pushing positive.
   */
  offset_deg: number
  /**
   * Pulse with crow fully out.
   */
  pulse_deployed_us: number
  /**
   * Pulse with the surface at neutral.
   */
  pulse_neutral_us: number
  /**
   * radio, servo or none.
   */
  shift_by: string
  /**
   * Neutral pulse less centre pulse.
   */
  shift_us: number
  /**
   * Servo turn either way for the snap throw.
   */
  snap_turn_deg: number
  /**
   * Teeth to turn the arm from square, pushing positive.
   */
  teeth: number
  /**
   * The servo horn is turned upside down.
   */
  turned_over: boolean
  /**
   * How the arm is fitted, in one line.
   */
  words: string
}
/**
 * A plan as in its file.
 */
export interface PlanPage {
  /**
   * How each aileron is fitted; empty where unknown.
   */
  corners: PlanCornerPage[]
  /**
   * Crow; null where the plan has none.
   */
  crow: CrowPage | null
  motor: MotorPage
  /**
   * The phases.
   */
  phases: PlanPhasePage[]
}
/**
 * A plan as the page shows and edits it.
 */
export interface PlanView {
  /**
   * Arrangements the plane can fly.
   */
  arrangements: string[]
  /**
   * Against the tuned plan; empty where equal or never tuned.
   */
  differs: DiffRow[]
  /**
   * Every fault of the file.
   */
  faults: FaultPage[]
  /**
   * Plan file; null: the plane as it is now.
   */
  file: string | null
  /**
   * What to call it.
   */
  label: string
  /**
   * Motor-brake levels of the plane's controller.
   */
  levels: string[]
  /**
   * Largest crow the hinges allow in this arrangement.
   */
  most_deg: number
  /**
   * What it holds; null where the file cannot be used.
   */
  plan: PlanPage | null
  /**
   * Revision of the file; 0 without one.
   */
  revision: number
  /**
   * Where it comes from.
   */
  state: 'as it is' | 'tuned' | 'edited' | 'frozen'
  /**
   * The file; empty without one.
   */
  text: string
  /**
   * A tuned plan of this plane is on record to compare with.
   */
  tuned_known: boolean
}
/**
 * Answer of topic `plane`.
 */
export interface PlaneView {
  /**
   * What follows; empty where the file cannot be used.
   */
  facts: FactPage[]
  /**
   * Every fault.
   */
  faults: FaultPage[]
  /**
   * Plane file.
   */
  file: string
  /**
   * Its tables in the order of measuring.
   */
  groups: FieldGroup[]
  /**
   * What was guessed.
   */
  guesses: GuessPage[]
  /**
   * Name of the plane.
   */
  name: string
  /**
   * Harmless but worth a look.
   */
  notes: string[]
  /**
   * Content hash of the file.
   */
  plane_hash: string
  /**
   * Its revision.
   */
  revision: number
  /**
   * Its shape; the last usable one is kept by the page. Null if unusable.
   */
  shape: ShapePage | null
  /**
   * The file.
   */
  text: string
  /**
   * Read without faults.
   */
  usable: boolean
  /**
   * Wanted speed; null where it has to be computed or is missing.
   */
  wanted_speed_m_s: number | null
}
/**
 * The plane to scale.
 */
export interface ShapePage {
  /**
   * Blades.
   */
  blades: number
  /**
   * Centre of gravity, mm.
   *
   * @minItems 3
   * @maxItems 3
   */
  cg: [number, number, number]
  /**
   * Overall height.
   */
  height_mm: number
  /**
   * Overall length.
   */
  length_mm: number
  /**
   * Neutral point, mm; null where not computed.
   */
  neutral_x_mm: number | null
  /**
   * Diameter; disc at the origin.
   */
  propeller_mm: number
  /**
   * The rest.
   */
  solids: SolidPage[]
  /**
   * Overall span.
   */
  span_mm: number
  /**
   * Lifting surfaces and what hinges on them, both sides.
   */
  surfaces: SurfacePage[]
}
/**
 * Body, wheel, strut or opening.
 */
export interface SolidPage {
  /**
   * Centre, mm.
   *
   * @minItems 3
   * @maxItems 3
   */
  at: [number, number, number]
  /**
   * In words.
   */
  name: string
  /**
   * How to draw it.
   */
  shape: 'body' | 'wheel' | 'bar' | 'plate'
  /**
   * Extent along x, y, z, mm.
   *
   * @minItems 3
   * @maxItems 3
   */
  size: [number, number, number]
}
/**
 * A flat piece of the plane in the drawing frame (mm: x aft, y right, z up; origin on propeller disc and thrust
 * line).
 */
export interface SurfacePage {
  /**
   * Hinge line inner to outer end; null where fixed.
   */
  hinge: [[number, number, number], [number, number, number]] | null
  /**
   * upper_left, upper_left_aileron, tail_right, elevator_left, fin, rudder and so on.
   */
  name: string
  /**
   * Corners in order, leading edge inner first.
   */
  outline: [number, number, number][]
  /**
   * What it is.
   */
  part: 'wing' | 'aileron' | 'tail' | 'elevator' | 'fin' | 'rudder'
  /**
   * Greatest thickness at the root.
   */
  thickness_mm: number
}
/**
 * Answer of `predict`.
 */
export interface PredictPage {
  air: AirPage
  /**
   * Holding stick against slope.
   */
  holding_stick: HoldingStickPage[]
  /**
   * What this answer leaves out.
   */
  limits: string[]
  /**
   * The five lines, from vertical down to vertical up.
   */
  lines: LinePage[]
  /**
   * What was flown: as it is now, or the plan's name.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Steady rolls.
   */
  roll: RollPage[]
  /**
   * Straightness of the down lines.
   */
  straightness: StraightnessPage[]
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
  /**
   * What to watch, in words.
   */
  warnings: string[]
}
/**
 * Steady roll at one throw.
 */
export interface RollPage {
  /**
   * Crow fully out or stowed.
   */
  deployed: boolean
  /**
   * The same rate with its spread, degrees a second; null if unsolved.
   */
  rate: Spreading | null
  /**
   * Steady rate of roll, degrees a second.
   */
  rate_deg_s: number
  retention: Retention
  /**
   * The section part of retention with its spread; null if unsolved.
   */
  section: Spreading | null
  /**
   * Aileron throw either way from where crow holds it, degrees.
   */
  throw_deg: number
}
/**
 * Roll response deployed over stowed, in parts that multiply.
 */
export interface Retention {
  /**
   * Part of the linkage; null where the plane file describes none.
   */
  linkage: number | null
  /**
   * Part of the wing sections at equal throw and speed.
   */
  section: number
  /**
   * Speed of the line over the wanted speed.
   */
  speed: number
  /**
   * Product of the parts that are known.
   */
  total: number
}
/**
 * How much a line bends with the elevator held at hands-off level trim.
 */
export interface StraightnessPage {
  /**
   * Clean bend with its spread, degrees a second; null if unsolved.
   */
  clean: Spreading | null
  /**
   * The same over 50 m of line, degrees.
   */
  clean_deg_50m: number
  /**
   * Clean aeroplane, degrees a second, towards the canopy positive.
   */
  clean_deg_s: number
  /**
   * Bend of the crow with its spread, degrees a second; null if unsolved.
   */
  crow: Spreading | null
  /**
   * The same over 50 m of line, degrees.
   */
  crow_deg_50m: number
  /**
   * Added by full crow, degrees a second.
   */
  crow_deg_s: number
  /**
   * What to change, or that nothing is needed.
   */
  cure: string
  /**
   * Flown inverted.
   */
  inverted: boolean
  /**
   * The line.
   */
  line: string
}
/**
 * What a long job is doing.
 */
export interface Progress {
  kind?: 'progress'
  seq: number
  words: string
}
/**
 * An ask or an action could not be answered: the reason and every fault.
 */
export interface Refused {
  faults?: FaultPage[]
  kind?: 'refused'
  seq: number | null
  /**
   * What came, what is allowed, what to do.
   */
  words: string
}
/**
 * Answer of `rig`.
 */
export interface RigPage {
  /**
   * Before bench work and the first flight.
   */
  cautions: string[]
  /**
   * Every aileron; empty without servo and linkage.
   */
  corners: CornerPage[]
  /**
   * Stick positions of the deployment curve's points.
   */
  curve_stick_percent: number[]
  /**
   * Elevator share at these points, elevator down positive.
   */
  elevator_percent: number[]
  /**
   * Every way of storing failsafe.
   */
  failsafe: FailsafePage[]
  /**
   * Why crow is off for landing, or what to expect.
   */
  landing: string
  /**
   * What this radio cannot do of the plan.
   */
  lost: string[]
  /**
   * The phases.
   */
  phases: RigPhasePage[]
  /**
   * Name of the plan.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Caution about play; empty where small or not measured.
   */
  play: string
  /**
   * Name of the radio description.
   */
  radio: string
  /**
   * The five lines before and after rounding.
   */
  speeds: SpeedChange[]
  /**
   * Cures in the plan: sign, size of one step, how to tell in the air.
   */
  straightness: string[]
  /**
   * Supply against all servos moving.
   */
  supply: string
  /**
   * The travel budget in words, with the cheapest cure where it does not close.
   */
  travel: string
}
/**
 * One phase.
 */
export interface RigPhasePage {
  /**
   * Throw either way, degrees.
   */
  aileron_deg: number
  /**
   * Crow live here.
   */
  crow: boolean
  /**
   * Throw either way, degrees.
   */
  elevator_deg: number
  /**
   * Aileron, elevator, rudder.
   *
   * @minItems 3
   * @maxItems 3
   */
  exponential_percent: [number, number, number]
  /**
   * As the pilot calls it.
   */
  name: string
  /**
   * Extra roll share at full deployment.
   */
  roll_boost_percent: number
  /**
   * Throw either way, degrees.
   */
  rudder_deg: number
}
/**
 * A line before and after rounding to the radio.
 */
export interface SpeedChange {
  /**
   * Speed with the radio's rounded settings.
   */
  flown_m_s: number | null
  /**
   * The line.
   */
  line: string
  /**
   * Speed of the plan.
   */
  planned_m_s: number | null
}
/**
 * A steady state of the shaft.
 */
export interface ShaftMeeting {
  /**
   * Name of the level.
   */
  level: string
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number
  /**
   * Airspeed.
   */
  speed_m_s: number
  /**
   * True where the shaft returns to it.
   */
  stable: boolean
  /**
   * Thrust; negative where the propeller brakes.
   */
  thrust_n: number
  /**
   * Torque there.
   */
  torque_n_m: number
}
/**
 * Why half motor brake is hard: torques over shaft speed.
 */
export interface ShaftPicturePage {
  /**
   * Windmilling torque at each airspeed.
   */
  driving: TorqueCurve[]
  /**
   * Torque of each level with friction.
   */
  holding: TorqueCurve[]
  /**
   * Every steady state.
   */
  meetings: ShaftMeeting[]
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Shaft speeds, revolutions a minute.
   */
  shaft_rpm: number[]
  /**
   * Airspeeds of `driving`.
   */
  speeds_m_s: number[]
}
/**
 * Torque over the shaft speeds of the page: by the air at an airspeed, or held by a level.
 */
export interface TorqueCurve {
  /**
   * Airspeed in m/s, or the name of the level.
   */
  name: string
  /**
   * Positive: the air turns the shaft forward; held by the level.
   */
  torque_n_m: number[]
}
/**
 * Answer of topic `sheet`: where the printed sheet can be had.
 */
export interface SheetAnswer {
  /**
   * Size of the phone's file.
   */
  bytes_html: number
  /**
   * Address of the file for the phone.
   */
  html: string
  /**
   * Addresses of the pages as pictures (SVG).
   */
  pages: string[]
  /**
   * Address of the PDF; &paper=letter for the other paper.
   */
  pdf: string
  /**
   * A sheet can be made.
   */
  ready: boolean
  /**
   * What is missing; empty where ready.
   */
  why_not: string
}
/**
 * Down speed over crow and motor brake, stick closed.
 */
export interface SpeedMapPage {
  air: AirPage
  /**
   * Upper/lower wing.
   */
  arrangement: string
  /**
   * Columns of the grid.
   */
  brake_percent: number[]
  /**
   * The chosen point; null where nothing is chosen.
   */
  chosen: ChosenPage | null
  /**
   * Lines of round speeds.
   */
  contours: ContourPage[]
  /**
   * Rows of the grid; the last one is the stop of the hinges.
   */
  crow_deg: number[]
  /**
   * What the mark around the chosen point means; null without one.
   */
  legend: string | null
  /**
   * Levels of the controller.
   */
  levels: LevelPage[]
  /**
   * What is out of reach from which crow on, lowest first.
   */
  limits: MapLimitPage[]
  /**
   * The plan's name, or tuned.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * What to know about it, in words.
   */
  remarks: string[]
  /**
   * The same with the torque of the motor brake half to twice what was computed.
   */
  shaft_band_doubt_percent: [number, number] | null
  /**
   * Motor brake with two propeller speeds at the wanted speed, as computed; null without.
   */
  shaft_band_percent: [number, number] | null
  /**
   * Every steady speed, slowest first, by row (crow) and column (motor brake).
   */
  states: MapState[][][]
  /**
   * Where two propeller speeds are possible.
   */
  two_speeds: TwoSpeedsPage[]
  wanted: ContourPage
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
  /**
   * What stands in the way, in words.
   */
  warnings: string[]
  /**
   * Wings with ailerons.
   */
  wings: number
}
/**
 * A patch of the map with two propeller speeds: at each brake setting crow from low to high.
 */
export interface TwoSpeedsPage {
  /**
   * Motor brake, rising.
   */
  brake_percent: number[]
  /**
   * Highest crow with two stable steady speeds.
   */
  high_deg: number[]
  /**
   * Lowest crow with two stable steady speeds.
   */
  low_deg: number[]
}
/**
 * Holding stick over slope, with crow and without.
 */
export interface StickPicturePage {
  /**
   * Force gained where the motor comes free of the closed band.
   */
  brake_step_n: number
  /**
   * End of the closed band.
   */
  closed_below_percent: number
  /**
   * Flown inverted.
   */
  inverted: boolean
  /**
   * The plan's name, or as it is now.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Stick where deployment begins; null without crow.
   */
  threshold_percent: number | null
  /**
   * Speed held.
   */
  wanted_speed_m_s: number
  /**
   * With the plan's crow; as without where it has none.
   */
  with_crow: StickPoint[]
  /**
   * The same plan without crow.
   */
  without_crow: StickPoint[]
}
/**
 * One target of the tuning.
 */
export interface TargetPage {
  /**
   * What the plan reaches.
   */
  got: string
  /**
   * Met or not.
   */
  met: boolean
  /**
   * What was asked.
   */
  name: string
  /**
   * What counts as met.
   */
  wanted: string
}
/**
 * Answer of `tune`.
 */
export interface TunePage {
  air: AirPage
  /**
   * Every level and arrangement, best first.
   */
  candidates: CandidatePage[]
  /**
   * Before the first flight.
   */
  cautions: string[]
  /**
   * The plan; null where none exists.
   */
  plan: PlanPage | null
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * What the plan is expected to do.
   */
  predicted: PredictPage | null
  /**
   * What would buy what is missing.
   */
  remedies: string[]
  /**
   * All targets met, some missed, or no plan at all.
   */
  status: 'met' | 'limited' | 'none'
  /**
   * The plan or its absence in two or three sentences.
   */
  summary: string
  /**
   * What was asked and what was reached.
   */
  targets: TargetPage[]
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
}
