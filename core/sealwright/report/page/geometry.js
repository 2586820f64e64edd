"use strict";
/* Meshes out of base64, normals that keep sharp edges, matrices, and rays for hovering. */
const geometry = (() => {
  const shorts = (text) => {
    const raw = atob(text), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    return new Uint16Array(bytes.buffer);
  };

  /* Vertices in mm (Float32Array) and triangles (Uint16Array) of a packed mesh. */
  const unpacked = (packed) => {
    const whole = shorts(packed.vertices), points = new Float32Array(whole.length);
    for (let i = 0; i < whole.length; i++) points[i] = packed.origin[i % 3] + packed.step * whole[i];
    return { points, triangles: shorts(packed.triangles) };
  };

  const valuesOf = (packed) => {
    const whole = shorts(packed.data), values = new Float32Array(whole.length);
    for (let i = 0; i < whole.length; i++) values[i] = whole[i] === 65535 ? NaN : packed.low + packed.step * whole[i];
    return values;
  };

  /* Area vectors of the triangles. */
  const areaVectors = (p, t) => {
    const out = new Float32Array(t.length);
    for (let i = 0; i < t.length; i += 3) {
      const a = 3 * t[i], b = 3 * t[i + 1], c = 3 * t[i + 2];
      const ux = p[b] - p[a], uy = p[b + 1] - p[a + 1], uz = p[b + 2] - p[a + 2];
      const vx = p[c] - p[a], vy = p[c + 1] - p[a + 1], vz = p[c + 2] - p[a + 2];
      out[i] = uy * vz - uz * vy; out[i + 1] = uz * vx - ux * vz; out[i + 2] = ux * vy - uy * vx;
    }
    return out;
  };

  /* Loose corners with normals that are smooth except over edges sharper than the crease. */
  const loose = (points, triangles, values, creaseDegrees) => {
    const area = areaVectors(points, triangles), count = triangles.length;
    const length = new Float32Array(count / 3);
    for (let f = 0; f < length.length; f++) length[f] = Math.hypot(area[3 * f], area[3 * f + 1], area[3 * f + 2]) || 1;
    const start = new Uint32Array(points.length / 3 + 1);
    for (let i = 0; i < count; i++) start[triangles[i] + 1]++;
    for (let i = 1; i < start.length; i++) start[i] += start[i - 1];
    const fill = start.slice(), around = new Uint32Array(count);
    for (let i = 0; i < count; i++) around[fill[triangles[i]]++] = (i / 3) | 0;
    const least = Math.cos(creaseDegrees * Math.PI / 180);
    const corner = new Float32Array(3 * count), normal = new Float32Array(3 * count), value = new Float32Array(count);
    for (let i = 0; i < count; i++) {
      const v = triangles[i], f = (i / 3) | 0;
      let x = 0, y = 0, z = 0;
      for (let k = start[v]; k < start[v + 1]; k++) {
        const g = around[k];
        const dot = area[3 * f] * area[3 * g] + area[3 * f + 1] * area[3 * g + 1] + area[3 * f + 2] * area[3 * g + 2];
        if (g === f || dot >= least * length[f] * length[g]) {
          x += area[3 * g]; y += area[3 * g + 1]; z += area[3 * g + 2];
        }
      }
      const size = Math.hypot(x, y, z) || 1;
      corner.set(points.subarray(3 * v, 3 * v + 3), 3 * i);
      normal[3 * i] = x / size; normal[3 * i + 1] = y / size; normal[3 * i + 2] = z / size;
      value[i] = values ? values[v] : 0;
    }
    return { corner, normal, value, count };
  };

  /* First triangle that a ray meets: distance, triangle start index, and shares of the second and third corner. */
  const firstHit = (points, triangles, origin, direction) => {
    let best = null, nearest = Infinity;
    const [ox, oy, oz] = origin, [dx, dy, dz] = direction;
    for (let i = 0; i < triangles.length; i += 3) {
      const a = 3 * triangles[i], b = 3 * triangles[i + 1], c = 3 * triangles[i + 2];
      const ux = points[b] - points[a], uy = points[b + 1] - points[a + 1], uz = points[b + 2] - points[a + 2];
      const vx = points[c] - points[a], vy = points[c + 1] - points[a + 1], vz = points[c + 2] - points[a + 2];
      const px = dy * vz - dz * vy, py = dz * vx - dx * vz, pz = dx * vy - dy * vx;
      const det = ux * px + uy * py + uz * pz;
      if (Math.abs(det) < 1e-12) continue;
      const sx = ox - points[a], sy = oy - points[a + 1], sz = oz - points[a + 2];
      const u = (sx * px + sy * py + sz * pz) / det;
      if (u < 0 || u > 1) continue;
      const qx = sy * uz - sz * uy, qy = sz * ux - sx * uz, qz = sx * uy - sy * ux;
      const v = (dx * qx + dy * qy + dz * qz) / det;
      if (v < 0 || u + v > 1) continue;
      const t = (vx * qx + vy * qy + vz * qz) / det;
      if (t > 0 && t < nearest) { nearest = t; best = { distance: t, triangle: i, u, v }; }
    }
    return best;
  };

  const unit = (v) => { const n = Math.hypot(...v) || 1; return v.map((x) => x / n); };
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

  /* Camera round a target: turn about Z and rise, degrees. Columns right, up, back and the eye. */
  const camera = (view) => {
    const a = view.turn * Math.PI / 180, e = view.rise * Math.PI / 180;
    const back = [Math.sin(a) * Math.cos(e), -Math.cos(a) * Math.cos(e), Math.sin(e)];
    const right = [Math.cos(a), Math.sin(a), 0];
    const up = cross(back, right);
    const eye = view.target.map((c, i) => c + back[i] * view.distance);
    return { right, up, back, eye };
  };

  /* Column-major view and projection matrix. */
  const matrix = (view, aspect) => {
    const { right, up, back, eye } = camera(view), f = 1 / Math.tan(view.lens * Math.PI / 360);
    const near = 0.05 * view.distance, far = view.distance + 600;
    const rows = [right, up, back].map((axis) => [...axis, -dot(axis, eye)]);
    const c = (far + near) / (near - far), d = 2 * far * near / (near - far);
    const out = new Float32Array(16);
    for (let k = 0; k < 4; k++) {
      out[4 * k] = f / aspect * rows[0][k];
      out[4 * k + 1] = f * rows[1][k];
      out[4 * k + 2] = c * rows[2][k] + (k === 3 ? d : 0);
      out[4 * k + 3] = -rows[2][k];
    }
    return out;
  };

  /* Ray through a place on the canvas, x and y from -1 to 1. */
  const ray = (view, aspect, x, y) => {
    const { right, up, back, eye } = camera(view), slope = Math.tan(view.lens * Math.PI / 360);
    const direction = [0, 1, 2].map((i) => right[i] * x * slope * aspect + up[i] * y * slope - back[i]);
    return { origin: eye, direction: unit(direction) };
  };

  return { unpacked, valuesOf, loose, firstHit, camera, matrix, ray };
})();
