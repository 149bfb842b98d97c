"use strict";
// The view that can be turned. Data, colours and words come from the page; nothing is fetched.
(() => {
  const part = document.getElementById("view");
  const stage = document.getElementById("view-stage");
  const status = document.getElementById("view-status");
  const given = JSON.parse(document.getElementById("view-data").textContent);
  const TURN = 10, NEAR = 0.6, FAR = 3.5, STEEPEST = 88;
  const camera = { ...given.looks[0] };
  let shown = 0;

  const bytes = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const kinds = { i2: Int16Array, u2: Uint16Array, u4: Uint32Array };
  const arrays = given.arrays.map(([kind, text]) => new kinds[kind](bytes(text).buffer));

  const points = (name) => {
    const flat = arrays[name], count = flat.length / 3;
    return [0, 1, 2].map((axis) => Float32Array.from({ length: count },
      (_, row) => flat[3 * row + axis] * given.step_mm));
  };
  const corners = (name) => {
    const flat = arrays[name], count = flat.length / 3;
    return [0, 1, 2].map((side) => Uint32Array.from({ length: count }, (_, row) => flat[3 * row + side]));
  };
  // the names keep a surface from taking over the colours of another when one is added or left out
  const surface = (uid, place, triangles, more) => {
    const [x, y, z] = points(place), [i, j, k] = corners(triangles);
    return { type: "mesh3d", uid, x, y, z, i, j, k, hoverinfo: "skip", flatshading: false,
      lighting: { ambient: 0.55, diffuse: 0.65, specular: 0.08, roughness: 0.8, fresnel: 0.05,
        vertexnormalsepsilon: 0, facenormalsepsilon: 0 },
      lightposition: { x: 2000, y: 6000, z: 12000 }, ...more };
  };

  const ticked = (name) => document.getElementById("view-" + name).checked;

  function traces() {
    const one = given.conditions[shown], out = [];
    if (ticked("bones")) out.push(surface("bones", one.bones, one.bone_triangles, { color: given.colours.bone }));
    if (one.device !== null && ticked("device")) {
      out.push(surface("device", one.device, one.device_triangles, { color: given.colours.device }));
    }
    if (ticked("sole")) {
      const kPa = Float32Array.from(arrays[one.pressure], (value) => value * given.step_kPa);
      out.push(surface("sole", one.skin, one.sole_triangles, {
        intensity: kPa, colorscale: given.colours.scale, cmin: 0, cmax: given.pressure_kPa,
        lighting: { ambient: 0.9, diffuse: 0.15, specular: 0 }, hoverinfo: "text", hovertext: Array.from(kPa, (value) => value.toFixed(0) + " kPa"),
        colorbar: { orientation: "h", thickness: 10, len: 0.8, y: 0, yanchor: "top", outlinewidth: 0.5,
          title: { text: given.bar_words, side: "top", font: { size: 12 } } } }));
    }
    if (ticked("cables")) {
      for (const [number, cable] of one.cables.entries()) {
        const slack = cable.tension_N < given.slack_N;
        const share = cable.tension_N / given.tension_N;
        out.push({ type: "scatter3d", uid: "cable" + number, mode: "lines", x: cable.x, y: cable.y, z: cable.z,
          line: { width: slack ? 2 : 3 + 13 * share, dash: slack ? "dot" : "solid",
            color: given.colours[cable.target ? "target" : "cable"] },
          hoverinfo: "text", showlegend: false,
          text: cable.title + ", " + cable.tension_N.toFixed(0) + " N" });
      }
    }
    if (ticked("skin")) {
      out.push(surface("skin", one.skin, one.upper_triangles, { color: given.colours.skin, opacity: 0.22 }));
    }
    return out;
  }

  function eye() {
    const turn = camera.turn * Math.PI / 180, rise = camera.rise * Math.PI / 180;
    return { up: { x: 0, y: 0, z: 1 }, center: { x: 0, y: 0, z: 0 }, eye: {
      x: camera.far * Math.cos(rise) * Math.cos(turn), y: camera.far * Math.cos(rise) * Math.sin(turn),
      z: camera.far * Math.sin(rise) } };
  }

  const axis = (range) => ({ visible: false, range });
  function layout() {
    return { margin: { l: 0, r: 0, t: 0, b: 46 }, showlegend: false, autosize: false,
      width: stage.clientWidth, height: stage.clientHeight,
      paper_bgcolor: "#ffffff", font: { family: "inherit", color: given.colours.ink },
      scene: { aspectmode: "data", dragmode: "turntable", camera: eye(), bgcolor: "#ffffff",
        xaxis: axis(given.box[0]), yaxis: axis(given.box[1]), zaxis: axis(given.box[2]) } };
  }
  const settings = { displayModeBar: false, displaylogo: false, scrollZoom: false };
  const draw = () => Plotly.react(stage, traces(), layout(), settings);
  const look = () => Plotly.relayout(stage, { "scene.camera": eye() });

  function turned(change) {
    camera.turn += change.turn || 0;
    camera.rise = Math.max(-STEEPEST, Math.min(STEEPEST, camera.rise + (change.rise || 0)));
    camera.far = Math.max(NEAR, Math.min(FAR, camera.far * (change.far || 1)));
    look();
  }
  const keys = { ArrowLeft: { turn: -TURN }, ArrowRight: { turn: TURN }, ArrowUp: { rise: TURN },
    ArrowDown: { rise: -TURN }, "+": { far: 0.9 }, "=": { far: 0.9 }, "-": { far: 1 / 0.9 } };

  function listen() {
    stage.on("plotly_relayout", (change) => {
      const moved = change["scene.camera"];
      if (!moved) return;
      const { x, y, z } = moved.eye;
      camera.far = Math.hypot(x, y, z);
      camera.rise = Math.asin(z / camera.far) * 180 / Math.PI;
      camera.turn = Math.atan2(y, x) * 180 / Math.PI;
    });
    stage.addEventListener("keydown", (event) => {
      if (!(event.key in keys) || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      turned(keys[event.key]);
    });
    for (const button of part.querySelectorAll("button[data-key]")) {
      button.addEventListener("click", () => turned(keys[button.dataset.key]));
    }
    for (const button of part.querySelectorAll("button[data-look]")) {
      button.addEventListener("click", () => {
        Object.assign(camera, given.looks[Number(button.dataset.look)]);
        look();
      });
    }
    for (const box of part.querySelectorAll("input[type=checkbox]")) box.addEventListener("change", draw);
    for (const dot of part.querySelectorAll("input[type=radio]")) {
      dot.addEventListener("change", () => {
        shown = Number(dot.value);
        say();
        draw();
      });
    }
  }

  let wide = 0;
  function fit() {
    if (stage.clientWidth === 0 || stage.clientWidth === wide) return; // 0: hidden on paper
    wide = stage.clientWidth;
    Plotly.relayout(stage, { width: wide, height: stage.clientHeight });
  }

  function say() {
    const one = given.conditions[shown];
    status.textContent = one.words;
    stage.setAttribute("aria-label", given.stage_words + " " + one.words);
  }

  async function library() {
    const packed = bytes(document.getElementById("view-library").textContent);
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
    const script = document.createElement("script");
    script.textContent = await new Response(stream).text();
    document.head.append(script);
  }

  function drawable() {
    const canvas = document.createElement("canvas");
    return Boolean(canvas.getContext("webgl2") || canvas.getContext("webgl"));
  }

  async function start() {
    try {
      if (!drawable()) throw new Error("no WebGL");
      await library();
      part.classList.add("live");
      await Plotly.newPlot(stage, traces(), layout(), settings);
      wide = stage.clientWidth;
      listen();
      say();
      new ResizeObserver(fit).observe(stage);
    } catch (problem) {
      part.classList.remove("live");
      status.textContent = given.failed_words + " (" + problem.message + ")";
    }
  }

  // after the rest of the page has been drawn
  setTimeout(start, 50);
})();
