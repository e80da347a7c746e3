// Pins, leaves and whose turn it is, by the rules of the game. Nothing here touches the page.

export const PINS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10];
const NEIGHBOUR = { 10: 6, 7: 4 };

// The pins that stand after a delivery at those before it; null where it was not recorded.
export function standingAfter(leave, before) {
  if (leave === "") return null;
  if (leave === "X" || leave === "/") return [];
  if (leave === "0") return before;
  return leave.split("-").map(Number);
}

export function leaveOf(pins, before) {
  if (pins.length === 0) return "";
  if (pins.length === before.length) return "0";
  return [...pins].sort((a, b) => a - b).join("-");
}

// The corner pin that stands while the pin beside it is down, the strong side's first.
export function cornerAlone(leave, hand) {
  const pins = standingAfter(leave, PINS);
  if (!pins) return null;
  const corners = hand === "right" ? [10, 7] : [7, 10];
  return corners.find((pin) => pins.includes(pin) && !pins.includes(NEIGHBOUR[pin])) ?? null;
}

export function besideCorner(corner) {
  return NEIGHBOUR[corner];
}

// What a frame's balls so far leave: the pins that stand, whether all down is a strike, whether the
// frame is over. A foul counts nothing, and after one the next ball is thrown at a full rack.
function frameSoFar(frame, balls) {
  let standing = PINS;
  let fresh = true;
  const felled = [];
  for (const ball of balls) {
    const after = standing && standingAfter(ball.leave, standing);
    if (ball.foul) {
      felled.push(0);
      [standing, fresh] = [PINS, false];
    } else if (!after) {
      felled.push(null);
      [standing, fresh] = [null, false];
    } else {
      felled.push(standing.length - after.length);
      const cleared = after.length === 0;
      [standing, fresh] = cleared ? [PINS, true] : [after, false];
    }
  }
  return { standing: standing ?? PINS, fresh, over: isOver(frame, felled) };
}

function isOver(frame, felled) {
  const strike = felled[0] === 10;
  if (frame < 10) return felled.length >= 2 || strike;
  if (felled.length >= 3) return true;
  const known = !felled.includes(null);
  return felled.length === 2 && known && !strike && felled[0] + felled[1] !== 10;
}

// Where the next ball belongs. `shots` are in the order thrown.
export function nextPlace(shots, { games, lanes }) {
  const last = shots.at(-1);
  // Of a pair, nobody can tell on which lane the next ball goes if the last one's is not known.
  const lane = last && lanes.length > 1 ? last.lane : (lanes[0] ?? last?.lane ?? null);
  if (!games) return { game: null, frame: null, delivery: 1, lane };
  const scored = shots.filter((shot) => shot.frame !== null);
  const before = scored.at(-1);
  if (!before) return { game: 1, frame: 1, delivery: 1, lane };
  const balls = ballsOf(scored, before);
  if (!frameSoFar(before.frame, balls).over) {
    return { game: before.game, frame: before.frame, delivery: balls.length + 1, lane: before.lane };
  }
  const tenth = before.frame === 10;
  return {
    game: tenth ? (before.game ?? 1) + 1 : before.game,
    frame: tenth ? 1 : before.frame + 1,
    delivery: 1,
    lane: lanes.length === 2 && before.lane ? lanes.find((number) => number !== before.lane) : lane,
  };
}

// The rack that a ball at this place is thrown at; `before` are the shots thrown before it.
export function rackAt(before, place) {
  if (place.frame !== null) {
    const balls = ballsOf(before, place).filter((shot) => shot.delivery < place.delivery);
    const { standing, fresh } = frameSoFar(place.frame, balls);
    return { standing, fresh };
  }
  const left = place.delivery > 1 ? standingAfter(before.at(-1)?.leave ?? "", PINS) : null;
  return { standing: left?.length ? left : PINS, fresh: place.delivery === 1 };
}

function ballsOf(shots, place) {
  return shots.filter((shot) => shot.game === place.game && shot.frame === place.frame);
}
