// What the program and the page say to each other. Coordinates are cells: x east, y south, (0, 0) the drawing's
// north-west corner. A cell in an edit is [column, row], counted from 1 as in the file. Lengths are millimetres.

/** @typedef {[number, number]} Spot */

/**
 * A room: what is written of it, and where it lies. box: [x, y, width, height]; centre: where its name has most room.
 * cells: whole cells, of the drawing or most of one under a shape.
 * @typedef {{title: string, wall: string, floor: string, style: string, pattern: string, cells: number,
 *   box: [number, number, number, number], centre: Spot}} Letter
 */

/**
 * A shape as written. path: SVG path data in cells. values: its table (circle, hall, polygon or arc).
 * @typedef {{index: number, room: string, form: "circle" | "hall" | "polygon" | "arc" | "", path: string,
 *   at: Spot | null, box: [number, number, number, number] | null, values: any}} Shape
 */

/**
 * A way as written. Either cell and side, or room and at (a point of its wall). spot: its middle; along: the direction
 * of its wall there, 1 long; span: how wide it is drawn, in cells. kind: "open", "doorway" or "saddle".
 * @typedef {{index: number, cell?: [number, number], side?: string, room?: string, at?: Spot | number, kind: string,
 *   leaf: string, head: string, style: string, width: string, height: string, spot: Spot, along: Spot, span: number}} Way
 */

/** @typedef {{index: number, cell: [number, number], side: string}} Wall */

/**
 * A feature as written. box: [x, y, width, height] in cells, as far as it is known; front: the side it rises to or
 * faces ("north", ...), or "".
 * @typedef {{index: number, kind: string, cell: [number, number], to: [number, number] | null, at: Spot | null,
 *   size: string[], values: Record<string, any>, box: [number, number, number, number], front: string}} Feature
 */

/**
 * What is written, whether it can be built or not (then fault says why it can't).
 * saved: the file holds just this. back, on: there is a step to undo, to redo.
 * @typedef {{at: number, name: string, scale: "10 ft" | "5 ft", cell_mm: number, spaces: number, rows: string[],
 *   letters: Record<string, Letter>, shapes: Shape[], ways: Way[], walls: Wall[], features: Feature[], stamps: Record<string, {across: number, round: boolean}>,
 *   measures: Record<string, string>, choices: Record<string, string>, surface: Record<string, any>,
 *   connector: Record<string, any>, larger: string, empty: boolean, fault: Fault | null, file: string, saved: boolean,
 *   back: boolean, on: boolean}} Plan
 */

/** @typedef {{text: string, place: string, cure: string, file?: string}} Fault */

/**
 * One type of tile or loose piece, as SVG path data in mm of its own frame.
 * @typedef {{id: string, name: string, key: string, loose: boolean, floor: string, walls: string, ways: string,
 *   lines: string, sunk: string, raised: string[], dark: string}} TileShape
 */

/**
 * Where a doorway may stand. across[row][column]: the line above that cell; down[row][column]: the line west of it.
 * "w" a wall that takes a doorway, "d" a way through a wall, "o" an open way, "x" a wall that takes none, "." nothing.
 * most: how wide each way may be, by its index, where that is known. width: of the usual doorway. Both in cells.
 * @typedef {{across: string[], down: string[], most: Record<string, number>, width: number}} Doors
 */

/**
 * The tiles as they lie. lie: [number in shapes, a, b, c, d, e, f], the SVG matrix onto the table in mm.
 * at: the step that they are of.
 * @typedef {{at: number, cell_mm: number, wall_mm: number, base_mm: number, shapes: TileShape[],
 *   lie: [number, number, number, number, number, number, number][], doors: Doors}} Tiles
 */

/**
 * A place where a figure does not get on: a way, or a room that is too narrow everywhere (what: "room") or in one place
 * on the way to another ("neck"; index null) for more than width_mm (0: for any). x, y: in cells. widen: edits that mend it, or null.
 * @typedef {{x: number, y: number, between: string[], what: string, width_mm: number, index: number | null,
 *   widen: any[] | null}} Stop
 */

/**
 * One figure. rooms_reached of rooms; from: where it sets out ("." outside, else a room, "" nowhere); blocks: a sign for each space where its block starts (s stands, b blocked); standing, blocked: first spaces (column, row from 1) of the blocks where it
 * stands and where it does not. wrong: why the word is no base.
 * @typedef {{word: string, base_mm: number, spaces_across: number, positions: number, stands: number, rooms: number,
 *   rooms_reached: number, from: string, blocks: string[], unreached: {room: string, title: string, first_cell: [number, number], cells: number}[],
 *   standing: [number, number][], blocked: [number, number][], stops: Stop[], wrong?: string}} Fit
 */

/**
 * A fault or a decision, where it is on the map (x, y null: of the plan as a whole). edits: what mends it, for
 * desk.edit; ghost: a line or box that shows that beforehand, [x, y, x, y] in cells.
 * @typedef {{x: number | null, y: number | null, level: "stop" | "decide", text: string, cure: string,
 *   ghost: [number, number, number, number] | null, edits: any[] | null}} Pin
 */

/**
 * @typedef {{key: string, id: string, name: string, count: number, own: number | null, make: number | null,
 *   loose: boolean}} KitRow
 */

/**
 * sheets, beds, hours, cost and the rest come last, for the tools chosen in `desk.wish`; null until then.
 * @typedef {{tiles: number, types: number, pieces: number, own: number | null, make: number | null,
 *   sheets: number | null, beds: number | null, hours: number | null, print_hours: number | null,
 *   cost: string | null}} Totals
 */

/**
 * What is worked out of a plan. stale: an edit has been made since.
 * @typedef {{stale: boolean, at: number, fit: Fit[], narrowest: {mm: number, x: number, y: number, index: number | null,
 *   words: string} | null, kit: KitRow[], totals: Totals, pins: Pin[]}} Answers
 */

export {};
