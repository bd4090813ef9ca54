"use strict";
// Draws what the program computed: stored laps and sampled steering, with straight lines between the samples.  Nothing is computed anew.
const data = JSON.parse(document.getElementById("data").textContent);
const POWERS = ["#F0D846", "#CBB965", "#A69C74", "#858279", "#676A71", "#47516C", "#1E3A6F", "#00224E"];
const INK = "#1A1A1A", LINE = "#0072B2", MISS = "#B34A00", SOFT = "#77756f", BODY = "#E6E4DD", ROAD = "#cfccc2";
const FAR = 60;  // [m] to which axle lines are drawn
const MEETING = 0.03;  // [m] lines that pass this near to each other meet
const PARALLEL = 0.05;  // [degrees] between wheels that the digits show as parallel
const SAME_LENGTH = 0.005;  // [m] lengths nearer than this are shown alike
const LEAST_BEND = 0.012;  // [1/m] wheels that ask for less stand nearly straight
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const byId = (id) => document.getElementById(id);
const degree = Math.PI / 180;

// The row of a rising column at which it has a value, with a fraction; held inside.
function rowAt(column, value) {
  let low = 0, high = column.length - 1;
  if (high < 1 || value <= column[0]) return 0;
  if (value >= column[high]) return high;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (column[middle] <= value) low = middle; else high = middle;
  }
  return low + (value - column[low]) / (column[high] - column[low] || 1);
}

// A column between two of its rows.
function between(column, row) {
  const index = Math.min(Math.floor(row), column.length - 2), share = row - index;
  if (index < 0) return column[0];
  return column[index] + share * (column[index + 1] - column[index]);
}

// How the front wheels of a set-up stand at a hand angle: angles and error against ideal [degrees], contact points [m], bends [1/m].
function steeringAt(index, hand) {
  const table = data.setups[index].steering, row = rowAt(table.hand, hand), found = {};
  for (const name of Object.keys(table)) found[name] = between(table[name], row);
  found.turnsLeft = found.steer >= 0;
  found.error = found.turnsLeft ? found.errorLeft : found.errorRight;
  found.inner = found.turnsLeft ? found.left : found.right;
  found.idealInner = found.inner - found.error;
  return found;
}

for (const one of data.setups) {
  // Columns of single wheels, so that no frame has to make them.
  one.wheelPower = [0, 1, 2, 3].map((wheel) => one.lap.power.map((each) => each[wheel]));
}

// A car's lap at a place of the course [m].
function lapAt(index, station) {
  // At the place that the page tells of, the very row that it tells.
  const one = data.setups[index], row = station === data.telling ? one.lap.told : rowAt(one.lap.station, station), now = {};
  for (const name of Object.keys(one.lap)) if (name !== "power" && name !== "told") now[name] = between(one.lap[name], row);
  now.power = one.wheelPower.map((column) => between(column, row));
  return now;
}

function colourOf(power, top) {
  const share = Math.sqrt(Math.min(Math.max(power / top, 0), 1));
  return POWERS[Math.min(Math.floor(share * POWERS.length), POWERS.length - 1)];
}

// A sum of powers, as whoever adds up the printed ones finds it.
function sumOf(powers) {
  return powers.reduce((sum, each) => sum + Number(each.toFixed(1)), 0).toFixed(1);
}

function signed(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return (Number(text) === 0 ? "" : value < 0 ? "\u2212" : "+") + text;
}

function length(metres) {
  return metres < 0.995 ? `${(100 * metres).toFixed(0)} cm` : `${metres.toFixed(1)} m`;
}

// A canvas made ready to draw in its own pixels: the pen, and its width and height.
function penOf(canvas) {
  const box = canvas.getBoundingClientRect(), ratio = window.devicePixelRatio || 1;
  const width = Math.max(Math.round(box.width * ratio), 1), high = Math.max(Math.round(box.height * ratio), 1);
  if (canvas.width !== width || canvas.height !== high) { canvas.width = width; canvas.height = high; }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, box.width, box.height);
  pen.lineCap = pen.lineJoin = "round";
  return { pen, width: box.width, high: box.height };
}

function stroke(pen, points, colour, breadth, dash = []) {
  pen.strokeStyle = colour;
  pen.lineWidth = breadth;
  pen.setLineDash(dash);
  pen.beginPath();
  points.forEach(([x, y], index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.stroke();
  pen.setLineDash([]);
}

function write(pen, text, x, y, align = "center", colour = INK) {
  pen.font = "13px 'Segoe UI', Roboto, 'Noto Sans', Arial, sans-serif";
  pen.textAlign = align;
  pen.textBaseline = "middle";
  pen.lineWidth = 4;
  pen.strokeStyle = "#fff";
  pen.strokeText(text, x, y);
  pen.fillStyle = colour;
  pen.fillText(text, x, y);
}

// A car from above.  view : from the car's metres (ahead of the front axle, left) to the canvas; stand : its front wheels;
// power : lost by each wheel [W], null for none; scale : pixels a metre
function drawCar(pen, view, scale, stand, power) {
  const car = data.car, half = car.oneTrack ? 0 : car.rearTrack / 2, base = car.wheelbase;
  const fronts = car.oneTrack ? [[0, 0], [0, 0]] : [[stand.leftX, stand.leftY], [stand.rightX, stand.rightY]];
  const wheels = [[...fronts[0], stand.left], [...fronts[1], stand.right], [-base, half, 0], [-base, -half, 0]];
  pen.fillStyle = BODY;
  pen.beginPath();
  [[0.3, 0.13], [0.3, -0.13], [-0.6 * base, -0.24], [-base - 0.15, -0.15], [-base - 0.15, 0.15], [-0.6 * base, 0.24]].forEach(
    (place, index) => (index ? pen.lineTo(...view(...place)) : pen.moveTo(...view(...place))));
  pen.fill();
  if (!car.oneTrack) {
    stroke(pen, [view(0, wheels[0][1]), view(0, wheels[1][1])], SOFT, 2);
    stroke(pen, [view(-base, half), view(-base, -half)], SOFT, 2);
  }
  wheels.forEach(([ahead, left, steer], index) => {
    const along = car.wheelRadius * Math.cos(steer * degree), across = car.wheelRadius * Math.sin(steer * degree);
    const ends = [view(ahead + along, left + across), view(ahead - along, left - across)];
    const breadth = Math.max(scale * car.tyreWidth, 5);
    stroke(pen, ends, INK, breadth + 3);
    stroke(pen, ends, power ? colourOf(power[index], data.top) : "#fff", breadth);
    if (power && !(car.oneTrack && index % 2)) {
      const lost = car.oneTrack ? Number(sumOf(power.slice(index, index + 2))) : power[index];
      // Ahead of a front wheel and behind a rear one, where no axle line runs.
      const [x, y] = view(ahead + (index < 2 ? 1 : -1) * (car.wheelRadius + 0.14), left);
      write(pen, `${lost.toFixed(1)} W`, x, y);
    }
  });
}

// The front wheels' axle lines up to where they cross the rear axle's line, and that line.
function drawAxleLines(pen, view, stand) {
  if (data.car.oneTrack) return;
  const base = data.car.wheelbase, crossings = crossingsOf(stand);
  [["left", stand.leftBend], ["right", stand.rightBend]].forEach(([side, bend]) => {
    const from = [stand[`${side}X`], stand[`${side}Y`]];
    const away = Math.abs(bend) > 1 / FAR ? [-base, 1 / bend] : [from[0] - FAR * Math.sin(stand[side] * degree) * (stand.turnsLeft ? 1 : -1),
      from[1] + FAR * Math.cos(stand[side] * degree) * (stand.turnsLeft ? 1 : -1)];
    stroke(pen, [view(...from), view(...away)], LINE, 2);
  });
  stroke(pen, [view(-base, 0), view(-base, stand.turnsLeft ? FAR : -FAR)], SOFT, 1.5, [6, 5]);
  if (!crossings) return;
  if (Math.abs(crossings[0] - crossings[1]) < MEETING) {
    const [x, y] = view(-base, crossings[0]);
    pen.fillStyle = LINE;
    pen.beginPath();
    pen.arc(x, y, 7, 0, 2 * Math.PI);
    pen.fill();
  } else stroke(pen, crossings.map((left) => view(-base, left)), MISS, 7);
}

// Where both front axle lines cross the rear axle's line, left of the middle [m]; null while the wheels stand nearly straight.
function crossingsOf(stand) {
  const bends = [stand.leftBend, stand.rightBend];
  return bends.every((bend) => Math.abs(bend) > LEAST_BEND) && bends[0] * bends[1] > 0 ? bends.map((bend) => 1 / bend) : null;
}

function fill(select, chosen) {
  data.setups.forEach((one, index) => select.add(new Option(one.name, index, false, index === chosen)));
}

function cells(row, head, texts) {
  const first = document.createElement("th"), name = document.createElement("bdi");
  first.className = "words stays";
  first.scope = "row";
  name.textContent = head;
  first.append(name);
  row.replaceChildren(first, ...texts.map((text) => {
    const cell = document.createElement("td");
    cell.textContent = text;
    return cell;
  }));
}

// --- the lap ---------------------------------------------------------------------------------------------------------

const place = byId("place"), play = byId("play"), chosen = [byId("first"), byId("second")];
const rows = chosen.map(() => byId("now").insertRow());
let playing = false, lastFrame = 0, station = data.telling;
fill(chosen[0], data.pair[0]);
fill(chosen[1], data.pair[data.pair.length - 1]);
place.max = Math.ceil(data.course.length * 2) / 2;
place.value = station;

function drawMap(index, now) {
  const { pen, width, high } = penOf(byId("map")), lap = data.setups[index].lap, { x, y } = data.course;
  const xs = x.concat(lap.x), ys = y.concat(lap.y), bounds = [xs, ys].map((all) => [all.reduce((a, b) => Math.min(a, b)), all.reduce((a, b) => Math.max(a, b))]);
  const spans = bounds.map(([low, top]) => Math.max(top - low, 1)), scale = Math.min((width - 40) / spans[0], (high - 40) / spans[1]);
  const view = (east, north) => [width / 2 + scale * (east - (bounds[0][0] + bounds[0][1]) / 2), high / 2 - scale * (north - (bounds[1][0] + bounds[1][1]) / 2)];
  stroke(pen, x.map((east, i) => view(east, y[i])), ROAD, 11);
  const every = Math.max(Math.floor(lap.x.length / 1500), 1);
  for (let i = 0; i + every < lap.x.length; i += every) {
    const total = lap.power[i].reduce((a, b) => a + b, 0);
    stroke(pen, [view(lap.x[i], lap.y[i]), view(lap.x[i + every], lap.y[i + every])], colourOf(total, 2 * data.top), 4);
  }
  const [east, north] = view(now.x, now.y);
  pen.fillStyle = MISS;
  pen.strokeStyle = "#fff";
  pen.lineWidth = 2.5;
  pen.beginPath();
  pen.arc(east, north, 8, 0, 2 * Math.PI);
  pen.fill();
  pen.stroke();
}

// What the map's colours are, from no power to the most; they change faster where little is lost.
function keyOfMap() {
  const [bar, ends] = byId("mapKey").children, most = 2 * data.top;
  const steps = POWERS.flatMap((colour, i) => [`${colour} ${100 * i / POWERS.length}%`, `${colour} ${100 * (i + 1) / POWERS.length}%`]);
  bar.style.background = `linear-gradient(90deg, ${steps.join(", ")})`;
  ends.replaceChildren(...[0, 0.5, 1].map((share) => {
    const end = document.createElement("span"), power = most * share ** 2;
    end.textContent = `${power.toFixed(power >= 10 || !power ? 0 : 1)} W${share === 1 ? " and more" : ""}`;
    return end;
  }));
  byId("mapKey").hidden = false;
}

function standOf(index, now) {
  return { ...steeringAt(index, now.hand), left: now.left, right: now.right };
}

function drawClose(canvas, index, now) {
  const { pen, width, high } = penOf(canvas), car = data.car, scale = Math.min(high / 3.1, width / 3.2);
  const view = (ahead, left) => [width / 2 - scale * left, high / 2 - scale * (ahead + car.wheelbase / 2)];
  // The road under the car: the course's line as the car sees it.
  const cosine = Math.cos(now.heading * degree), sine = Math.sin(now.heading * degree), { x, y } = data.course;
  const seen = (east, north) => view(cosine * (east - now.x) + sine * (north - now.y) - car.frontArm, -sine * (east - now.x) + cosine * (north - now.y));
  let part = [];
  for (let i = 0; i <= x.length; i++) {
    if (i < x.length && Math.hypot(x[i] - now.x, y[i] - now.y) < 12) part.push(seen(x[i], y[i]));
    else if (part.length) { stroke(pen, part, ROAD, 2, [9, 7]); part = []; }
  }
  drawAxleLines(pen, view, standOf(index, now));
  drawCar(pen, view, scale, standOf(index, now), now.power);
}

function showLap() {
  byId("where").textContent = `${station.toFixed(0)} m of ${data.course.length.toFixed(0)} m`;
  place.setAttribute("aria-valuetext", `${station.toFixed(0)} metres`);
  chosen.forEach((select, side) => {
    const index = Number(select.value), one = data.setups[index], now = lapAt(index, station);
    if (!side) {
      drawMap(index, now);
      byId("mapName").replaceChildren("What all tyres of \"", nameOf(one.name), "\" lose along the course; the dot is where the cars are.");
    }
    byId(side ? "secondName" : "firstName").replaceChildren(nameOf(one.name));
    drawClose(byId(side ? "secondCar" : "firstCar"), index, now);
    const last = one.lap.station[one.lap.station.length - 1], there = station <= last + 1;
    cells(rows[side], one.name, there
      ? [now.speed.toFixed(1), signed(now.hand, 1), ...now.power.map((each) => each.toFixed(1)), sumOf(now.power)]
      : ["ended", ...Array(6).fill("")]);
  });
}

function nameOf(name) {
  const shown = document.createElement("bdi");
  shown.textContent = name;
  return shown;
}

function frame(time) {
  if (!playing) return;
  const step = calm.matches ? 500 : 0;  // where motion is unwelcome the picture changes twice a second
  const passed = lastFrame ? time - lastFrame : 0;
  if (!lastFrame || passed >= step) {
    const now = lapAt(Number(chosen[0].value), station);
    station = Math.min(station + Math.max(now.speed, 0.5) * Math.min(passed, 1000) / 1000, data.course.length);
    place.value = station;
    lastFrame = time;
    showLap();
    if (station >= data.course.length) { setPlaying(false); return; }
  }
  requestAnimationFrame(frame);
}

function setPlaying(on) {
  playing = on;
  lastFrame = 0;
  play.textContent = on ? "Pause" : "Play";
  play.setAttribute("aria-pressed", String(on));
  if (!on) return;
  if (station >= data.course.length) station = 0;
  requestAnimationFrame(frame);
}

play.addEventListener("click", () => setPlaying(!playing));
place.addEventListener("input", () => { setPlaying(false); station = Number(place.value); showLap(); });
chosen.forEach((select) => select.addEventListener("change", showLap));

// --- the hand wheel --------------------------------------------------------------------------------------------------

const steering = byId("steering"), angle = byId("angle"), wheel = byId("wheel");
const ANGLES = ["left front wheel", "right front wheel", "inner wheel as ideal steering has it for this outer wheel", "inner wheel off that, at this hand angle"].map((words) => {
  const row = byId("angles").insertRow();
  cells(row, words, [""]);
  return row.cells[1];
});
fill(steering, data.pair[data.pair.length - 1]);  // the worse one has something to show
let hand = 0;

function limits() {
  const all = data.setups[Number(steering.value)].steering.hand;
  return [all[0], all[all.length - 1]];
}

function turnTo(wanted) {
  const [low, high] = limits();
  hand = Math.min(Math.max(wanted, low), high);
  angle.value = -hand;  // to the left is left on the slider
  showSteering();
}

function drawWheel() {
  const { pen, width, high } = penOf(wheel), radius = Math.max(Math.min(width, high) / 2 - 16, 1);
  pen.translate(width / 2, high / 2);
  pen.rotate(-hand * degree);
  pen.strokeStyle = INK;
  pen.lineWidth = 16;
  pen.beginPath();
  pen.arc(0, 0, radius, 0, 2 * Math.PI);
  pen.stroke();
  stroke(pen, [[-radius, 0], [radius, 0]], INK, 8);
  stroke(pen, [[0, 0], [0, radius]], INK, 8);
  stroke(pen, [[0, -radius - 7], [0, -radius + 7]], "#E69F00", 7);
  pen.rotate(hand * degree);
  write(pen, `${signed(hand, 1)}°`, 0, -radius / 2.4);
}

function showSteering() {
  const index = Number(steering.value), stand = steeringAt(index, hand), car = data.car;
  drawWheel();
  const { pen, width, high } = penOf(byId("plan")), crossings = crossingsOf(stand);
  const reach = crossings ? Math.min(Math.max(...crossings.map(Math.abs)), 9) : 1.2;
  // Room to the side to which it turns for the point where the lines meet.
  const across = Math.max(reach + 1.5, 3), scale = Math.min((high - 24) / (car.wheelbase + 1.1), (width - 24) / across);
  const middle = stand.turnsLeft ? width - 1.15 * scale : 1.15 * scale;
  const centre = crossings ? middle : width / 2;
  const view = (ahead, left) => [centre - scale * left, high / 2 - scale * (ahead + car.wheelbase / 2)];
  drawAxleLines(pen, view, stand);
  drawCar(pen, view, scale, stand, null);
  const texts = [stand.left, stand.right, stand.idealInner, stand.error];
  texts.forEach((value, row) => { ANGLES[row].textContent = `${signed(value, 2)}°`; });
  angle.setAttribute("aria-valuetext", `${Math.abs(hand).toFixed(1)} degrees ${hand > 0 ? "left" : hand < 0 ? "right" : ""}`);
  byId("meets").textContent = meetWords(stand, crossings);
}

function meetWords(stand, crossings) {
  if (data.car.oneTrack) return "This model has one wheel in the middle of each axle, so nothing can disagree.";
  const parallel = Math.abs(stand.left - stand.right) < PARALLEL;
  if (!crossings) return parallel ? "The front wheels stand nearly straight ahead and parallel: their axle lines run side by side."
    : "The wheels stand nearly straight ahead: their axle lines meet far away.";
  const side = crossings[0] > 0 ? "left" : "right", miss = Math.abs(crossings[0] - crossings[1]);
  const where = `${length(Math.abs(crossings[0]))} to the ${side} of the car's middle`;
  if (parallel && miss >= MEETING) {
    const same = Math.abs(miss - data.car.kingpinTrack) < SAME_LENGTH ? ", as far as the kingpins stand apart, at any hand angle" : "";
    return `The front axle lines are parallel and never meet: they cross the rear axle's line ${length(miss)} apart${same}. The wheels cannot all roll, some tyre must slip.`;
  }
  return miss < MEETING
    ? `Both front axle lines meet the rear axle's line at one point, ${where}: all wheels can roll about it.`
    : `The front axle lines cross the rear axle's line ${length(miss)} apart: the wheels cannot all roll, some tyre must slip.`;
}

function newSteering() {
  const [low, high] = limits();
  angle.min = -high;
  angle.max = -low;
  turnTo(hand);
}

let grip = null;
function direction(event) {
  const box = wheel.getBoundingClientRect();
  return Math.atan2(event.clientX - box.left - box.width / 2, -(event.clientY - box.top - box.height / 2)) / degree;
}
wheel.addEventListener("pointerdown", (event) => { grip = direction(event); wheel.setPointerCapture(event.pointerId); event.preventDefault(); });
wheel.addEventListener("pointermove", (event) => {
  if (grip === null) return;
  const now = direction(event);
  // The shorter way round; clockwise on the screen is to the right, which is below zero.
  const turned = ((now - grip + 540) % 360) - 180;
  grip = now;
  turnTo(hand - turned);
});
for (const end of ["pointerup", "pointercancel"]) wheel.addEventListener(end, () => { grip = null; });
angle.addEventListener("input", () => turnTo(-Number(angle.value)));
steering.addEventListener("change", newSteering);
byId("ahead").addEventListener("click", () => turnTo(0));

// --- size and paper --------------------------------------------------------------------------------------------------

// Where a table goes on beyond the edge, words beside it say so.
function tellTables() {
  for (const one of document.querySelectorAll(".sideways")) one.previousElementSibling.classList.toggle("moves", one.scrollWidth > one.clientWidth + 1);
}

function showAll() {
  tellTables();
  showLap();
  showSteering();
}
let opened = [];
addEventListener("beforeprint", () => {
  opened = [...document.querySelectorAll("details:not([open])")];
  opened.forEach((one) => { one.open = true; });
});
addEventListener("afterprint", () => opened.forEach((one) => { one.open = false; }));
addEventListener("resize", showAll);
document.querySelectorAll("details").forEach((one) => one.addEventListener("toggle", tellTables));
document.documentElement.classList.add("live");
newSteering();
hand = limits()[1] / 2;
turnTo(hand);
keyOfMap();
showLap();
tellTables();
