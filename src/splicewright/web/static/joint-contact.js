// The contact problem of a damaged joint, worked on the phone.
//
// The same equations as joint/loads/response.py and hinge.py, from what job/inspection/condensed.py
// sends: springs that pull and never push, behind them the belt ends as compliances, between them a
// pin that bends. P = F e - K g, P >= 0, for every set of assumptions; damage changes a few rows of
// K. SI throughout. tests/web/inspection/test_joint_verdict.py holds it against the server's own.
(() => {
  "use strict";
  const PUSH = 1e-11, TOGETHER = 6, MOST_WRONG = 60, ROUNDS = 2000;

  class UnworkableError extends Error {}

  // Solve a (n x n, rows one after the other, overwritten) for m right sides; null where singular.
  function solve(a, right, n, m) {
    for (let c = 0; c < n; c += 1) {
      let pivot = c;
      for (let r = c + 1; r < n; r += 1) {
        if (Math.abs(a[r * n + c]) > Math.abs(a[pivot * n + c])) pivot = r;
      }
      const top = a[pivot * n + c];
      if (!(Math.abs(top) > 0)) return null;
      if (pivot !== c) {
        for (let j = c; j < n; j += 1) {
          const kept = a[c * n + j];
          a[c * n + j] = a[pivot * n + j];
          a[pivot * n + j] = kept;
        }
        for (let j = 0; j < m; j += 1) {
          const kept = right[c * m + j];
          right[c * m + j] = right[pivot * m + j];
          right[pivot * m + j] = kept;
        }
      }
      for (let r = c + 1; r < n; r += 1) {
        const share = a[r * n + c] / top;
        if (share === 0) continue;
        for (let j = c + 1; j < n; j += 1) a[r * n + j] -= share * a[c * n + j];
        for (let j = 0; j < m; j += 1) right[r * m + j] -= share * right[c * m + j];
      }
    }
    for (let r = n - 1; r >= 0; r -= 1) {
      for (let j = 0; j < m; j += 1) {
        let sum = right[r * m + j];
        for (let c = r + 1; c < n; c += 1) sum -= a[r * n + c] * right[c * m + j];
        right[r * m + j] = sum / a[r * n + r];
      }
    }
    return right;
  }

  // The joint, sound and true

  // What all sets of assumptions have in common.
  function common(data) {
    const y = data.rows.flat(), n = y.length, first = data.rows[0].length;
    const lead = y.map((_, i) => i < first), side = lead.map((it) => (it ? 1 : -1));
    const reach = Math.max(...y.map(Math.abs)) || 1;
    return { y, n, first, lead, side, reach };
  }

  // Compliance of both belt ends, or of the one, plates in one row [m/N].
  function compliance(data, belt, { n, first }) {
    const found = new Float64Array(n * n);
    belt.halves.forEach((half, end) => {
      const from = end * first, many = data.rows[end].length;
      for (let i = 0, at = 0; i < many; i += 1) {
        for (let j = 0; j <= i; j += 1, at += 1) {
          found[(from + i) * n + from + j] = half[at];
          found[(from + j) * n + from + i] = half[at];
        }
      }
    });
    return found;
  }

  // The pin's part for a bending stiffness of 1: shift and tilt, which balance, are taken out.
  function pinShape({ y, n, side }) {
    const found = new Float64Array(n * n);
    for (let i = 0; i < n; i += 1) {
      for (let j = 0; j < n; j += 1) {
        found[i * n + j] = Math.abs(y[i] - y[j]) ** 3 / 12 * side[i] * side[j];
      }
    }
    const dot = (a, b) => a.reduce((sum, value, i) => sum + value * b[i], 0);
    const unit = (a) => { const long = Math.sqrt(dot(a, a)); return a.map((v) => v / long); };
    const shift = unit(side), arm = side.map((s, i) => s * y[i]);
    const over = dot(arm, shift);
    const ways = [shift];
    const rest = arm.map((v, i) => v - over * shift[i]);
    if (Math.sqrt(dot(rest, rest)) > 1e-12 * Math.sqrt(dot(arm, arm))) ways.push(unit(rest));
    for (const way of ways) {
      for (const [step, stride] of [[1, n], [n, 1]]) {
        for (let line = 0; line < n; line += 1) {
          let sum = 0;
          for (let i = 0; i < n; i += 1) sum += way[i] * found[line * stride + i * step];
          for (let i = 0; i < n; i += 1) found[line * stride + i * step] -= sum * way[i];
        }
      }
    }
    return found;
  }

  // Inverse of a symmetric matrix that needs no search for pivots, in its own place.
  function inverted(a, n) {
    for (let c = 0; c < n; c += 1) {
      const pivot = a[c * n + c];
      if (!(pivot > 0)) throw new UnworkableError("the equations of the joint have no answer");
      a[c * n + c] = 1;
      for (let j = 0; j < n; j += 1) a[c * n + j] /= pivot;
      for (let r = 0; r < n; r += 1) {
        const share = a[r * n + c];
        if (r === c || share === 0) continue;
        a[r * n + c] = 0;
        for (let j = 0; j < n; j += 1) a[r * n + j] -= share * a[c * n + j];
      }
    }
    return a;
  }

  // What the plates of one belt, stiffness and pin answer on ends that neither shift nor tilt, and to
  // shift, balance and tilt: the same in all sets of assumptions that differ in how ends give way.
  function heldEnds(data, all, one, pinShare) {
    const { y, n, lead, side, reach } = all, found = compliance(data, data.belts[one.belt], all);
    const bending = one.bending === null ? 0 : one.bending * pinShare;
    for (let i = 0; i < n * n; i += 1) found[i] = one.k * (found[i] + (bending ? all.pin[i] / bending : 0));
    const arm = y.map((at) => at / reach);
    const ways = data.hinged
      ? [lead.map(Number), lead.map((it) => Number(!it)), arm.map((at, i) => side[i] * at), arm]
      : [lead.map(() => 1), arm];
    // As stiff against these ways as against the others: the answer is the same and keeps its digits.
    let stiff = 0;
    for (let i = 0; i < n; i += 1) stiff += found[i * n + i] / n;
    for (const way of ways) {
      for (let i = 0; i < n; i += 1) {
        for (let j = 0; j < n; j += 1) found[i * n + j] += stiff * way[i] * way[j];
      }
    }
    for (let i = 0; i < n; i += 1) found[i * n + i] += 1;
    const inverse = inverted(found, n);
    return { inverse, stiff, ways: ways.map((way) => {
      const solved = new Float64Array(n);
      for (let i = 0; i < n; i += 1) {
        for (let j = 0; j < n; j += 1) solved[i] += inverse[i * n + j] * way[j];
      }
      return { way, solved };
    }) };
  }

  // How the sound joint answers under one set of assumptions.
  function soundResponse(data, all, one, held) {
    const { n } = all, { inverse, stiff, ways } = held, m = ways.length, k = one.k;
    const loose = one.ease / (1 + one.ease), tight = 1 / (1 + one.ease);
    const last = (data.hinged ? loose / 2 : loose) - tight * stiff, pulls = data.hinged ? 2 : 1;
    // Each end carries the whole pull, without moment between them, and tilts as it gives way.
    const small = new Float64Array(m * m), right = new Float64Array(m * (n + 1));
    ways.forEach(({ solved }, row) => {
      const size = row === m - 1 ? last : 1;
      for (let i = 0; i < n; i += 1) {
        right[row * (n + 1) + i] = size * solved[i];
        ways.forEach(({ way }, column) => { small[row * m + column] += size * solved[i] * way[i]; });
      }
      if (row < pulls) right[row * (n + 1) + n] = 1;
    });
    small[m * m - 1] += tight;
    const both = solve(small, right, m, n + 1);
    if (both === null) throw new UnworkableError("the equations of the joint have no answer");
    const even = new Float64Array(n), taken = inverse.slice();
    for (let i = 0; i < n; i += 1) {
      for (let row = 0; row < m; row += 1) {
        const solved = ways[row].solved[i], from = row * (n + 1);
        even[i] += solved * both[from + n];
        for (let j = 0; j < n; j += 1) taken[i * n + j] -= solved * both[from + j];
      }
      for (let j = 0; j < n; j += 1) taken[i * n + j] *= k;
    }
    return { n, even, taken, alive: new Array(n).fill(true), stiffness: new Float64Array(n).fill(k) };
  }

  // The joint with some plates weaker, stiffness 0 where they are lost.
  function changed(response, plates, stiffness) {
    const { n } = response, m = plates.length;
    const small = new Float64Array(m * m), right = new Float64Array(m * (n + 1));
    plates.forEach((p, i) => {
      plates.forEach((q, j) => { small[i * m + j] = response.taken[p * n + q]; });
      const now = response.stiffness[p];
      if (stiffness[i] > 0) small[i * m + i] += now * stiffness[i] / (now - stiffness[i]);
      for (let j = 0; j < n; j += 1) right[i * (n + 1) + j] = response.taken[p * n + j];
      right[i * (n + 1) + n] = response.even[p];
    });
    const both = solve(small, right, m, n + 1);
    if (both === null) throw new UnworkableError("what is left holds nothing");
    const even = response.even.slice(), taken = response.taken.slice();
    for (let row = 0; row < n; row += 1) {
      for (let i = 0; i < m; i += 1) {
        const column = response.taken[row * n + plates[i]];
        if (column === 0) continue;
        for (let j = 0; j < n; j += 1) taken[row * n + j] -= column * both[i * (n + 1) + j];
        even[row] -= column * both[i * (n + 1) + n];
      }
    }
    const alive = response.alive.slice(), left = response.stiffness.slice();
    plates.forEach((p, i) => {
      if (stiffness[i] > 0) {
        left[p] = stiffness[i];
        return;
      }
      for (let j = 0; j < n; j += 1) { taken[p * n + j] = 0; taken[j * n + p] = 0; }
      even[p] = 0;
      alive[p] = false;
    });
    return { n, even, taken, alive, stiffness: left };
  }

  // Contact

  // What slack takes from each plate while all bear, `slack` for one place [N].
  function slackTakes(response, slack) {
    const { n, taken } = response, found = new Float64Array(n);
    for (let i = 0; i < n; i += 1) {
      const own = slack[i];
      if (own === 0) continue;
      for (let j = 0; j < n; j += 1) found[j] += own * taken[i * n + j];
    }
    return found;
  }

  // What one contact problem after the other is worked in: a tap asks for some thousands of them.
  let room = { n: 0 };

  function roomFor(n) {
    if (room.n !== n) {
      room = { n, linear: new Float64Array(n), own: new Float64Array(n * n), given: new Float64Array(n),
        off: new Uint8Array(n), at: new Uint16Array(n), wrong: new Uint16Array(n) };
    }
    return room;
  }

  // Loads of one scenario [N], written into `now`; `hint`: {off}, plates found loose last time, and is
  // solved anew.
  function loads(all, response, force, takes, hint, now) {
    const { n, even } = response, found = roomFor(n).linear, least = -PUSH * force;
    let push = false;
    for (let i = 0; i < n; i += 1) {
      found[i] = force * even[i] - takes[i];
      if (found[i] < least) push = true;
    }
    if (push) settled(response, found, least, hint, now);
    else now.set(found);
    let one = 0, other = 0;
    for (let i = 0; i < n; i += 1) {
      if (now[i] < 0) now[i] = 0;
      if (i < all.first) one += now[i];
      else other += now[i];
    }
    const off = Math.max(Math.abs(one / force - 1), n > all.first ? Math.abs(other / force - 1) : 0);
    if (!(off <= 1e-8)) throw new UnworkableError(`balance missed by ${off} of the pull`);
    return now;
  }

  // Which plates hang loose: those that would push, save where that stretches them. The answer is
  // one and the same whichever plates it begins with.
  function settled(response, linear, least, hint, now) {
    const { n, taken, stiffness } = response;
    const { own, given, off, at, wrong } = roomFor(n);
    const pushing = () => { for (let i = 0; i < n; i += 1) off[i] = linear[i] < least ? 1 : 0; };
    const mostWrong = () => {
      let most = 0;
      for (let i = 1; i < n; i += 1) if (linear[i] < linear[most]) most = i;
      off.fill(0);
      off[most] = 1;
    };
    if (hint.off) off.set(hint.off);
    else pushing();
    for (let turn = 0; turn < ROUNDS; turn += 1) {
      if (turn === TOGETHER) mostWrong();
      let m = 0;
      for (let i = 0; i < n; i += 1) if (off[i]) at[m++] = i;
      for (let i = 0; i < m; i += 1) {
        const row = at[i] * n;
        for (let j = 0; j < m; j += 1) own[i * m + j] = taken[row + at[j]];
        given[i] = linear[at[i]];
      }
      if (solve(own, given, m, 1) === null) {
        if (turn >= TOGETHER) throw new UnworkableError("what is left holds nothing");
        turn = TOGETHER - 1;
        continue;
      }
      now.set(linear);
      for (let i = 0; i < m; i += 1) {
        const row = at[i] * n, back = given[i];
        for (let j = 0; j < n; j += 1) now[j] -= back * taken[row + j];
      }
      for (let i = 0; i < m; i += 1) now[at[i]] = -given[i] * stiffness[at[i]];
      let many = 0;
      for (let i = 0; i < n; i += 1) if (now[i] < least) wrong[many++] = i;
      if (!many) {
        for (let i = 0; i < m; i += 1) now[at[i]] = 0;
        (hint.off ||= new Uint8Array(n)).set(off);
        return;
      }
      // All at once may go round in a ring: then the most wrong, at last the first, which ends.
      if (turn < TOGETHER) {
        for (let i = 0; i < many; i += 1) off[wrong[i]] ^= 1;
      } else {
        let one = wrong[0];
        for (let i = 1; i < many && turn < MOST_WRONG; i += 1) if (now[wrong[i]] < now[one]) one = wrong[i];
        off[one] ^= 1;
      }
    }
    throw new UnworkableError("the plates that bear were not found");
  }

  // Whether the plates left can hold the pull.
  function balances(data, all, free, alive) {
    const spans = data.rows.map((row, end) => {
      const left = row.filter((_, i) => alive[end * all.first + i]);
      return [Math.max(...left), Math.min(...left)];
    });
    const most = Math.min(...spans.map((s) => s[0])), least = Math.max(...spans.map((s) => s[1]));
    if (free) return least < 0 && 0 < most;
    return data.hinged ? least <= most : Number.isFinite(least);
  }

  globalThis.splicewright = Object.assign(globalThis.splicewright || {}, {
    jointContact: {
      UnworkableError, balances, changed, common, heldEnds, loads, pinShape, slackTakes, soundResponse,
    },
  });
})();
