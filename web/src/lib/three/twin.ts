// The plane as a workshop drawing in space: paper-like surfaces, ink edges, moved surfaces hatched. Drawn only when
// something has changed.
import {
  AmbientLight,
  BackSide,
  Box3,
  BufferGeometry,
  Color,
  ConeGeometry,
  DirectionalLight,
  DoubleSide,
  Group,
  Mesh,
  MeshBasicMaterial,
  MeshLambertMaterial,
  PerspectiveCamera,
  Scene,
  Vector3,
  WebGLRenderer,
} from 'three'
import { LineMaterial } from 'three/addons/lines/LineMaterial.js'
import { LineSegments2 } from 'three/addons/lines/LineSegments2.js'
import { LineSegmentsGeometry } from 'three/addons/lines/LineSegmentsGeometry.js'
import type { LinkagePage, ShapePage, SurfacePage } from '../generated/pages'
import { pins } from '../kinematics/fourbar'
import {
  bodySolid,
  boxSolid,
  propellerLines,
  surfaceSolid,
  toScene,
  wheelSolid,
  type Drawn,
  type Triple,
} from './solids'
import { VIEWS, type View } from './views'

/** Surfaces turned less than this are drawn as at rest, rad. */
const MOVED = 0.005
const FIELD_OF_VIEW = 14

/** Colours of the page. */
export interface Paper {
  sheet: string
  ink: string
  hair: string
  chosen: string
}

interface Hinged {
  group: Group
  axis: Vector3
  skin: Mesh
  edge: LineSegments2
  hatch: LineSegments2
}

/** In the frame of a linkage: x aft of the servo axis, n towards the horn's side, m. */
type Place = [number, number]

interface Linked {
  link: LinkagePage
  lines: LineSegments2
  ghost: LineSegments2
  place: (at: Place) => Vector3
}

export class Twin {
  readonly #renderer: WebGLRenderer
  readonly #scene = new Scene()
  readonly #camera = new PerspectiveCamera(FIELD_OF_VIEW, 1.5, 50, 60000)
  readonly #sun = new DirectionalLight(0xffffff, 2)
  readonly #sky = new AmbientLight(0xffffff, 1)
  readonly #paper = new MeshLambertMaterial({ side: DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 2 })
  readonly #movedPaper = new MeshLambertMaterial({ side: DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 2 })
  readonly #hull = new MeshBasicMaterial({ side: BackSide, polygonOffset: true, polygonOffsetFactor: 2, polygonOffsetUnits: 8 })
  /** How far the outline stands off, mm. */
  readonly #outset = { value: 1 }
  readonly #bob = new MeshBasicMaterial()
  readonly #ink = line(1.4)
  readonly #heavy = line(2.4)
  readonly #fine = line(0.9)
  readonly #hatchLine = line(0.9)
  readonly #rod = line(2.2)
  readonly #hidden = line(1.1)
  readonly #plumb = line(1)

  #plane = new Group()
  #linkages = new Group()
  #hinged = new Map<string, Hinged>()
  #linked: Linked[] = []
  #shape: ShapePage | null = null
  #points: Vector3[] = []
  #centre = new Vector3()
  /** Distance at which all of it is in the frame as looked at last, mm. */
  #reach = 3000
  #radius = 800
  #azimuth = 0
  #elevation = 0
  #distance = 1
  #height = 400
  #waiting = 0

  constructor(canvas: HTMLCanvasElement) {
    this.#renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true, powerPreference: 'low-power' })
    this.#hidden.depthTest = false
    this.#hidden.opacity = 0.45
    this.#hidden.transparent = true
    // The far side of a slightly larger skin, in ink, is the outline of everything.
    this.#hull.onBeforeCompile = (shader) => {
      shader.uniforms.outset = this.#outset
      shader.vertexShader = `uniform float outset;\n${shader.vertexShader}`.replace(
        '#include <begin_vertex>',
        'vec3 transformed = position + outset * normal;',
      )
    }
    this.#scene.add(this.#plane, this.#linkages, this.#sky, this.#sun, this.#sun.target)
    this.look('pilot')
  }

  /** The plane to draw; everything drawn before is thrown away. */
  setShape(shape: ShapePage): void {
    this.#shape = shape
    this.#clear(this.#plane)
    this.#hinged.clear()
    for (const surface of shape.surfaces) {
      const drawn = surfaceSolid(surface)
      if (surface.hinge) this.#hinge(surface, surface.hinge, drawn)
      else this.#add(this.#plane, drawn)
    }
    for (const solid of shape.solids) {
      if (solid.shape === 'body') this.#add(this.#plane, bodySolid(solid))
      else if (solid.shape === 'wheel') this.#add(this.#plane, wheelSolid(solid))
      else this.#add(this.#plane, boxSolid(solid))
    }
    const propeller = propellerLines(shape.propeller_mm, shape.blades)
    this.#plane.add(segments(propeller.edges, this.#ink), segments(propeller.circle, this.#fine))
    this.#plumbLine(shape)
    this.#points = [
      ...shape.surfaces.flatMap((surface) => surface.outline.map(toScene)),
      ...shape.solids.flatMap(({ at, size }) => [-0.5, 0.5].map((k) => toScene(at.map((x, i) => x + k * (size[i] ?? 0)) as Triple))),
      ...propeller.circle,
    ]
    const box = new Box3().setFromPoints(this.#points)
    box.getCenter(this.#centre)
    this.#radius = 0.5 * box.min.distanceTo(box.max)
    this.#fit()
  }

  setLinkages(linkages: LinkagePage[]): void {
    this.#clear(this.#linkages)
    this.#linked = []
    for (const link of linkages) {
      const surface = this.#shape?.surfaces.find((one) => one.name === `${link.corner}_aileron`)
      if (!surface?.hinge) continue
      const [from, to] = surface.hinge
      const share = (1e3 * link.y - from[1]) / (to[1] - from[1] || 1)
      const hinge = from.map((value, axis) => value + share * ((to[axis] ?? 0) - value)) as Triple
      const up = link.horn_above ? 1 : -1
      const place = ([x, n]: Place): Vector3 =>
        toScene([hinge[0] + 1e3 * (x - link.distance), hinge[1], hinge[2] + up * 1e3 * (n + link.height)])
      const lines = segments([new Vector3(), new Vector3()], this.#rod)
      const ghost = segments([new Vector3(), new Vector3()], this.#hidden)
      ghost.renderOrder = 2
      this.#linkages.add(lines, ghost)
      this.#linked.push({ link, lines, ghost, place })
    }
    this.draw()
  }

  /** Angles by surface, arm turns from square by corner; rad. What is not named rests. */
  setAngles(angles: Record<string, number>, turns: Record<string, number> = {}): void {
    for (const [name, { group, axis, skin, edge, hatch }] of this.#hinged) {
      const angle = angles[name] ?? 0
      const moved = Math.abs(angle) > MOVED
      group.quaternion.setFromAxisAngle(axis, angle)
      skin.material = moved ? this.#movedPaper : this.#paper
      edge.material = moved ? this.#heavy : this.#ink
      hatch.visible = moved
    }
    for (const { link, lines, ghost, place } of this.#linked) {
      const at = pins(link, link.square + (turns[link.corner] ?? link.offset))
      const origin: Place = [0, 0]
      const [axis, arm, horn, hinge] = [origin, at.arm, at.horn, at.hinge].map(place)
      if (!axis || !arm || !horn || !hinge) continue
      const points = [axis, arm, arm, horn, horn, hinge].flatMap((point) => point.toArray())
      for (const one of [lines, ghost]) {
        one.geometry.dispose()
        one.geometry = new LineSegmentsGeometry().setPositions(points)
      }
    }
    this.draw()
  }

  look(view: View): void {
    ;[this.#azimuth, this.#elevation] = VIEWS[view].from
    this.#distance = 1
    this.#fit()
  }

  /** Walk round the plane and over it, rad. */
  turn(azimuth: number, elevation: number): void {
    this.#azimuth += azimuth
    this.#elevation = Math.min(Math.max(this.#elevation + elevation, -1.45), 1.5707)
    this.draw()
  }

  closer(factor: number): void {
    this.#distance = Math.min(Math.max(this.#distance * factor, 0.2), 2)
    this.draw()
  }

  colour(paper: Paper): void {
    const [sheet, ink, hair, chosen] = [paper.sheet, paper.ink, paper.hair, paper.chosen].map((one) => new Color(one))
    if (!sheet || !ink || !hair || !chosen) return
    const bright = sheet.getHSL({ h: 0, s: 0, l: 0 }).l > 0.5
    this.#paper.color.copy(bright ? sheet : sheet.clone().lerp(ink, 0.035))
    this.#movedPaper.color.copy(this.#paper.color).lerp(chosen, bright ? 0.28 : 0.22)
    this.#sky.intensity = bright ? 1.8 : 1.6
    this.#sun.intensity = bright ? 1.3 : 2.2
    this.#hull.color.copy(ink)
    for (const material of [this.#ink, this.#rod, this.#hidden]) material.color.copy(ink)
    this.#heavy.color.copy(ink)
    this.#fine.color.copy(hair)
    for (const material of [this.#hatchLine, this.#plumb]) material.color.copy(chosen)
    this.#bob.color.copy(chosen)
    this.draw()
  }

  resize(width: number, height: number, ratio: number): void {
    if (width < 1 || height < 1) return
    this.#renderer.setPixelRatio(ratio)
    this.#renderer.setSize(width, height, false)
    this.#camera.aspect = width / height
    this.#height = height
    this.#fit()
  }

  /** Draw once with the next frame, however often it is asked. */
  draw(): void {
    if (this.#waiting) return
    this.#waiting = requestAnimationFrame(() => {
      this.#waiting = 0
      this.#render()
    })
  }

  dispose(): void {
    cancelAnimationFrame(this.#waiting)
    this.#clear(this.#plane)
    this.#clear(this.#linkages)
    this.#renderer.dispose()
    this.#renderer.forceContextLoss()
  }

  #towards(): Vector3 {
    const [c, s] = [Math.cos(this.#elevation), Math.sin(this.#elevation)]
    return new Vector3(-c * Math.sin(this.#azimuth), s, c * Math.cos(this.#azimuth))
  }

  /** The nearest distance from which everything is seen. */
  #fit(): void {
    const half = Math.tan((FIELD_OF_VIEW * Math.PI) / 360)
    const towards = this.#towards()
    const right = new Vector3(Math.cos(this.#azimuth), 0, Math.sin(this.#azimuth))
    const up = new Vector3().crossVectors(towards, right)
    const at = new Vector3()
    let reach = 1
    for (const point of this.#points) {
      at.copy(point).sub(this.#centre)
      const across = Math.abs(at.dot(right)) / (half * this.#camera.aspect)
      reach = Math.max(reach, at.dot(towards) + Math.max(across, Math.abs(at.dot(up)) / half))
    }
    this.#reach = 1.06 * reach
    this.draw()
  }

  #render(): void {
    const camera = this.#camera
    const half = Math.tan((FIELD_OF_VIEW * Math.PI) / 360)
    const reach = this.#reach * this.#distance
    camera.position.copy(this.#centre).addScaledVector(this.#towards(), reach)
    camera.up.set(0, 1, 0)
    if (Math.cos(this.#elevation) < 0.01) camera.up.set(Math.sin(this.#azimuth), 0, -Math.cos(this.#azimuth))
    this.#outset.value = (1.5 * 2 * half * reach) / this.#height
    camera.lookAt(this.#centre)
    camera.near = Math.max(20, reach - 2 * this.#radius)
    camera.far = reach + 2 * this.#radius
    camera.updateProjectionMatrix()
    this.#sun.position.copy(this.#centre).add(new Vector3(-0.5, 1.2, 0.55).multiplyScalar(this.#radius))
    this.#sun.target.position.copy(this.#centre)
    this.#renderer.render(this.#scene, camera)
  }

  #add(to: Group, drawn: Drawn): void {
    to.add(new Mesh(drawn.skin, this.#paper), new Mesh(drawn.skin, this.#hull), segments(drawn.edges, this.#ink))
  }

  #hinge(surface: SurfacePage, hinge: [Triple, Triple], drawn: Drawn): void {
    const [from, to] = hinge.map(toScene)
    if (!from || !to) return
    const group = new Group()
    group.position.copy(from)
    const skin = new Mesh(drawn.skin.translate(-from.x, -from.y, -from.z), this.#paper)
    const edge = segments(drawn.edges.map((at) => at.clone().sub(from)), this.#ink)
    const hatch = segments(drawn.hatch.map((at) => at.clone().sub(from)), this.#hatchLine)
    hatch.visible = false
    group.add(skin, new Mesh(skin.geometry, this.#hull), edge, hatch)
    this.#plane.add(group)
    // Positive turns the trailing edge down, the rudder's to the left; the chord runs back along z.
    const wanted = surface.part === 'rudder' ? new Vector3(-1, 0, 0) : new Vector3(0, -1, 0)
    const axis = to.clone().sub(from).normalize()
    if (new Vector3().crossVectors(axis, new Vector3(0, 0, 1)).dot(wanted) < 0) axis.negate()
    this.#hinged.set(surface.name, { group, axis, skin, edge, hatch })
  }

  /** The plumb line through the centre of gravity. */
  #plumbLine(shape: ShapePage): void {
    const at = toScene(shape.cg)
    const top = at.clone().setY(at.y + 0.8 * shape.height_mm)
    const end = at.clone().setY(at.y - 0.8 * shape.height_mm)
    const size = 0.045 * shape.height_mm
    const bob = new Mesh(new ConeGeometry(size, 2.6 * size, 20), this.#bob)
    bob.rotation.x = Math.PI
    bob.position.copy(end).setY(end.y - 1.3 * size)
    this.#plane.add(segments([top, end], this.#plumb), bob)
  }

  #clear(group: Group): void {
    group.traverse((item) => {
      if (item instanceof Mesh) (item.geometry as BufferGeometry).dispose()
    })
    group.clear()
  }
}

function line(width: number): LineMaterial {
  return new LineMaterial({ linewidth: width })
}

function segments(points: Vector3[], material: LineMaterial): LineSegments2 {
  const geometry = new LineSegmentsGeometry()
  geometry.setPositions(points.length === 0 ? [0, 0, 0, 0, 0, 0] : points.flatMap((point) => point.toArray()))
  const lines = new LineSegments2(geometry, material)
  lines.frustumCulled = false
  return lines
}
