// Shots as a page shows them: the server's rows, and over them what still waits in the outbox.

const NOTHING = { CHOICE: "", LEAVE: "", TEXT: "", YES_NO: false };

export function emptyShot(columns) {
  const cells = Object.entries(columns).map(([name, { kind }]) => [name, NOTHING[kind] ?? null]);
  return { ...Object.fromEntries(cells), delivery: 1 };
}

export function shotsWith(rows, entries, columns) {
  const all = new Map([...rows].map(([id, row]) => [id, { ...row }]));
  for (const { kind, id, values, refused } of entries) {
    const marks = { waiting: true, refused };
    if (kind === "log") all.set(id, { ...emptyShot(columns), version: 0, ...values, id, ...marks });
    else if (kind === "delete") all.delete(id);
    else if (all.has(id)) Object.assign(all.get(id), values, marks);
  }
  return [...all.values()].sort((a, b) => a.shot - b.shot);
}

// The ball that is thrown next: the last one at such a rack, else one that is meant for it.
export function usualBall(shots, rack, balls) {
  const spares = !rack.fresh;
  const last = shots.findLast((shot) => shot.ball && shot.delivery > 1 === spares);
  if (last) return last.ball;
  const fitting = balls.find((ball) => ball.spare === spares);
  return (fitting ?? balls[0])?.label ?? "";
}

export function refusal(refused, columns) {
  const all = Object.entries(refused).map(([name, messages]) => {
    const label = columns[name]?.label;
    return `${label ? `${label}: ` : ""}${[messages].flat().join(" ")}`;
  });
  return `Not saved. ${all.join(" ")}`;
}
