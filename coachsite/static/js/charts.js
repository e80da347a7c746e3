// The report's trend charts. The words and the tables say the same without them.

const root = document.getElementById("charts");
const drawn = JSON.parse(document.getElementById("charts-data").textContent);
const SHAPES = { circle: "circle", square: "square", triangle: "triangle-up", diamond: "diamond", cross: "x-thin", plus: "cross-thin" };
const LEVELS = 3;
const LEVEL_PX = 14;
// On paper: black on white, and of a width of its own, since a print does not lay out again.
const PAPER = { width: 330, height: 276, text: "#000000", soft: "#333333", line: "#999999", surface: "#ffffff" };

function screenColours() {
  const style = getComputedStyle(document.documentElement);
  const token = (name) => style.getPropertyValue(name).trim();
  return { text: token("--text"), soft: token("--text-soft"), line: token("--line"), surface: token("--surface") };
}

function series(number) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--series-${number}`).trim();
}

function faded(colour, alpha) {
  const [r, g, b] = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16));
  return `rgba(${r},${g},${b},${alpha})`;
}

function traces(chart, colours) {
  const found = [];
  const accent = series(1);
  if (chart.trend?.low) {
    found.push(
      { x: chart.trend.band_x, y: chart.trend.low, mode: "lines", line: { width: 0 }, hoverinfo: "skip", showlegend: false },
      { x: chart.trend.band_x, y: chart.trend.high, mode: "lines", line: { width: 0 }, fill: "tonexty", fillcolor: faded(accent, 0.18), hoverinfo: "skip", showlegend: false },
    );
  }
  if (chart.trend) {
    found.push({ x: chart.trend.x, y: chart.trend.y, mode: "lines", line: { color: accent, width: 2 }, name: chart.trend.low ? "trend and its range" : "trend", hoverinfo: "skip" });
  }
  for (const one of chart.series) {
    const colour = series(one.series);
    const shape = SHAPES[one.shape];
    found.push({
      x: one.x, y: one.y, mode: "markers", name: one.label,
      marker: { symbol: one.off && !shape.endsWith("thin") ? `${shape}-open` : shape, size: 8, color: one.off ? colours.soft : colour, line: { width: shape.endsWith("thin") ? 2 : 1, color: one.off ? colours.soft : colour } },
      hovertemplate: `shot %{x}: %{y} ${chart.unit}<extra>${one.label}</extra>`,
    });
  }
  return found;
}

function shotsOf(chart) {
  const numbers = chart.series.flatMap((one) => one.x);
  return [Math.min(...numbers), Math.max(...numbers)];
}

function layout(chart, colours) {
  const [first, last] = shotsOf(chart);
  const shapes = chart.changes.map((change) => ({
    type: "line", x0: change.shot - 0.5, x1: change.shot - 0.5, yref: "paper", y0: 0, y1: 1,
    line: { color: colours.text, width: 1.5, dash: change.dash },
  }));
  const levels = Math.min(Math.max(chart.changes.length, 1), LEVELS);
  if (chart.zone) {
    shapes.unshift({ type: "rect", xref: "paper", x0: 0, x1: 1, y0: chart.zone[0], y1: chart.zone[1], fillcolor: faded(series(4), 0.14), line: { width: 0 }, layer: "below" });
  }
  const annotations = chart.changes.map((change, place) => ({
    // Above the points, on levels, so that neighbours do not cover each other.
    x: change.shot - 0.5, yref: "paper", y: 1, yshift: LEVEL_PX * (place % levels), text: change.words, showarrow: false,
    xanchor: change.shot > last * 0.5 ? "right" : "left", yanchor: "bottom", font: { size: 11, color: colours.text },
  }));
  if (chart.zone) {
    annotations.push({ xref: "paper", x: 1, xanchor: "right", y: chart.zone[1], yanchor: "top", text: "pocket", showarrow: false, font: { size: 11, color: colours.soft } });
  }
  const axis = { gridcolor: colours.line, linecolor: colours.line, zeroline: false, automargin: true, tickfont: { size: 12 } };
  return {
    title: { text: chart.title, x: 0.02, xanchor: "left", y: 0.97, yanchor: "top", font: { size: 15 } },
    font: { family: "system-ui, sans-serif", size: 12, color: colours.text },
    paper_bgcolor: colours.surface, plot_bgcolor: colours.surface,
    margin: { l: 48, r: 20, t: 54 + LEVEL_PX * (levels - 1), b: 8 },
    xaxis: { ...axis, title: { text: "shot", standoff: 4 }, range: [first - 1, last + 1] },  // its own, or a long label would stretch it
    yaxis: { ...axis, title: { text: chart.unit, standoff: 4 } },
    legend: { orientation: "h", y: -0.28, x: 0, font: { size: 11 } },
    width: colours.width, height: colours.height, autosize: !colours.width,
    shapes, annotations, hovermode: "closest", dragmode: false,
  };
}

const boxes = drawn.map((chart) => {
  const box = document.createElement("div");
  box.className = "chart";
  box.setAttribute("role", "img");
  const changed = chart.changes.length ? ` Marked: ${chart.changes.map((change) => change.words).join("; ")}.` : "";
  box.setAttribute("aria-label", `${chart.title} by shot, in ${chart.unit}.${changed} The values stand in the tables.`);
  root.append(box);
  return [box, chart];
});

function draw(colours) {
  root.hidden = false;
  for (const [box, chart] of boxes) {
    window.Plotly.react(box, traces(chart, colours), layout(chart, colours), { displayModeBar: false, responsive: true, staticPlot: false });
  }
}

if (window.Plotly) {
  draw(screenColours());
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => draw(screenColours()));
  addEventListener("beforeprint", () => draw(PAPER));
  addEventListener("afterprint", () => draw(screenColours()));
}
