// Can it run? A damaged joint judged on the phone, as joint/inspection/damage.py judges it.
//
// No words and no thresholds stand here: they come with the joint's data. Where the findings do not
// go with the joint it throws, and there is no verdict.
(() => {
  "use strict";
  const {
    UnworkableError, balances, changed, common, heldEnds, loads, pinShape, slackTakes, soundResponse,
  } = globalThis.splicewright.jointContact;
  const STEPS = 24, CROSSINGS = 60, NEAR = 1e-12, EQUAL = 1e-9;

  // What was found, plate by plate

  // Strength and stiffness left, shares of a sound plate's, plates of both ends in one row.
  // found: {plates: [{end, number, kept, bolts}], pinNow, pinNew, tornLeft, tornRight, breaking}
  function condition(data, found) {
    const ends = [[], []];
    for (const plate of found.plates) {
      if (plate.bolts > data.bolts) throw new UnworkableError("more bolts missing than there are");
      ends[plate.end].push({ at: plate.number - 1, kept: plate.kept * ((data.bolts - plate.bolts) / data.bolts) });
    }
    const named = new Set(found.plates.map((plate) => plate.end));
    const tornEnd = named.size === 1 ? [...named][0] : 0;
    const isTorn = found.tornLeft || found.tornRight;
    if (!(found.tornLeft >= 0 && found.tornRight >= 0 && found.tornLeft + found.tornRight < data.width)) {
      throw new UnworkableError("torn as wide as the belt");
    }
    const pinNew = found.pinNew ?? data.pin;
    let pin = 1;
    if (found.pinNow !== null) {
      if (!data.hinged || pinNew === null || found.pinNow > pinNew || !(found.pinNow > 0)) {
        throw new UnworkableError("the pin does not go with this joint");
      }
      pin = (1 - (pinNew - found.pinNow) / pinNew) ** 3;
    }
    const strength = [], stiffness = [];
    data.rows.forEach((row, end) => {
      const torn = isTorn && (!data.hinged || end === tornEnd) ? [found.tornRight, found.tornLeft] : [0, 0];
      const half = data.plate_width / 2, own = { strength: [], stiffness: [] };
      for (const y of row) {
        const low = Math.max(y - half, -data.width / 2 + torn[0]);
        const high = Math.min(y + half, data.width / 2 - torn[1]);
        let hold = Math.min(1, Math.max(0, (high - low) / data.plate_width));
        if (hold > 1 - 1e-9) hold = 1;
        if (hold < data.least_hold) hold = 0;
        own.strength.push(hold);
        own.stiffness.push(hold);
      }
      const kept = new Map();
      // Plates in one piece across the ends: the worse of both.
      for (const plate of data.hinged ? ends[end] : ends.flat()) {
        kept.set(plate.at, Math.min(plate.kept, kept.get(plate.at) ?? 1));
      }
      for (const [at, share] of kept) {
        own.strength[at] *= share;
        own.stiffness[at] *= share;
      }
      own.strength = own.strength.map((s) => s * pin);
      if (!own.strength.some((s, i) => s > 0 && own.stiffness[i] > 0)) {
        throw new UnworkableError("all plates of an end are lost");
      }
      strength.push(...own.strength);
      stiffness.push(...own.stiffness);
    });
    const alive = strength.map((s, i) => s > 0 && stiffness[i] > 0);
    return { strength, alive, stiffness: stiffness.map((s, i) => (alive[i] ? s : 0)) };
  }

  function ratingOf(data, breaking) {
    if (breaking !== null && breaking < data.rated) throw new UnworkableError("breaks below its rating");
    const broken = data.even * (breaking ?? data.breaking) / data.rated;
    return { running: Math.min(data.permitted, broken), breaking: broken };
  }

  // The verdict

  // One set of assumptions with the damage worked in.
  class Joint {
    constructor(data, all, one, sound, state) {
      Object.assign(this, { data, all, free: one.free, alive: state.alive });
      this.looked = new Float64Array(all.n);
      this.slack = data.places.map((_, at) => data.belts[one.belt].slack.flatMap((end) => end[at]));
      this.response = null;
      if (!balances(data, all, one.free, state.alive)) return;
      const weaker = [];
      state.stiffness.forEach((share, i) => { if (share < 1) weaker.push(i); });
      this.response = weaker.length
        ? changed(sound, weaker, weaker.map((i) => state.stiffness[i] * one.k)) : sound;
      this.at = this.whole(this.response);
    }

    // A response with what slack takes at each place, and what was loose there last.
    whole(response) {
      return { response, takes: this.slack.map((slack) => slackTakes(response, slack)),
        hints: this.slack.map(() => ({ off: null })) };
    }

    // into: where they are written; what is only looked at shares one place
    loads({ response, takes, hints }, place, scale, into = new Float64Array(this.all.n)) {
      const force = scale * this.data.places[place].pull;
      loads(this.all, response, force, takes[place], hints[place], into);
      return into;
    }

    // Load of the plate worst off over what it may carry.
    worst(now, may) {
      let most = 0;
      for (let i = 0; i < now.length; i += 1) {
        if (this.alive[i] && now[i] / may[i] > most) most = now[i] / may[i];
      }
      return most;
    }

    // Load over what each plate may carry, place after place.
    used(scale, may) {
      const { n } = this.all, found = new Float64Array(n * this.data.places.length);
      for (let place = 0; place < this.data.places.length; place += 1) {
        const now = this.loads(this.at, place, scale, this.looked);
        for (let i = 0; i < n; i += 1) found[place * n + i] = this.alive[i] ? now[i] / may[i] : 0;
      }
      return found;
    }

    // Largest multiple of the pull at which no plate passes what it may, searched upwards.
    largestPull(place, may) {
      const ends = [0, 0];
      may.forEach((most, i) => { if (this.alive[i]) ends[i < this.all.first ? 0 : 1] += most; });
      const borne = this.data.hinged ? Math.min(...ends) : ends[0];
      const high = borne / this.data.places[place].pull;
      const over = (scale) => this.worst(this.loads(this.at, place, scale, this.looked), may) - 1;
      let below = [0, -1];
      for (let step = 1; step <= STEPS; step += 1) {
        const above = [step / STEPS * high, over(step / STEPS * high)];
        if (above[1] > 0) return crossing(over, below, above);
        below = above;
      }
      return high;
    }

    // How many plates can be lost, worst first, before the rest tears open; no further than `most`.
    losses(breaking, peak, most) {
      let now = this.at;
      const end = Math.min(most, this.alive.filter(Boolean).length);
      for (let lost = 0; lost < end; lost += 1) {
        if (now === null) return lost;
        const found = this.data.places.map((_, place) => this.loads(now, place, peak));
        if (this.tearsOpen(now, found, breaking, peak)) return lost;
        if (lost + 1 === end) break;
        const used = breaking.map((most, i) => (now.response.alive[i]
          ? Math.max(...found.map((each) => each[i])) / most : -1));
        now = this.without(now.response, [firstLargest(used)]);
      }
      return end;
    }

    tearsOpen(from, found, breaking, peak) {
      let now = from, each = found;
      while (now !== null) {
        const breaks = [];
        now.response.alive.forEach((alive, i) => {
          if (alive && each.some((row) => row[i] > breaking[i])) breaks.push(i);
        });
        if (!breaks.length) return false;
        now = this.without(now.response, breaks);
        if (now !== null) each = this.data.places.map((_, place) => this.loads(now, place, peak));
      }
      return true;
    }

    without(response, plates) {
      const alive = response.alive.slice();
      for (const i of plates) alive[i] = false;
      if (!balances(this.data, this.all, this.free, alive)) return null;
      return this.whole(changed(response, plates, plates.map(() => 0)));
    }
  }

  // The largest amount found not to be over a limit: false position, halved every third time.
  function crossing(over, below, above) {
    let [low, under] = below, [top, beyond] = above;
    for (let turn = 0; turn < CROSSINGS; turn += 1) {
      if (top - low <= NEAR * top) break;
      const amount = turn % 3 === 2 ? (low + top) / 2
        : low - under * (top - low) / (beyond - under);
      const now = over(amount);
      if (Math.abs(now) <= NEAR) return amount;
      if (now > 0) [top, beyond] = [amount, now];
      else [low, under] = [amount, now];
    }
    return low;
  }

  // A joint that is asked about again and again: what is sound is worked once and kept.
  class Judge {
    constructor(data) {
      this.data = data;
      this.all = common(data);
      if (data.hinged) this.all.pin = pinShape(this.all);
      this.sound = new Map();
      this.held = new Map();
    }

    // A keystroke of a worn pin asks for all sets anew: what several share is worked once.
    heldOf(one, share) {
      const key = `${one.belt} ${one.k} ${one.bending} ${share}`;
      if (!this.held.has(key)) {
        if (this.held.size > this.data.cases.length) this.held.clear();
        this.held.set(key, heldEnds(this.data, this.all, one, share));
      }
      return this.held.get(key);
    }

    // share: bending stiffness of the pin as it is over that of the pin as taken
    soundOf(at, share) {
      const key = `${at} ${share}`;
      if (!this.sound.has(key)) {
        if (this.sound.size > 3 * this.data.cases.length) this.sound.clear();
        const one = this.data.cases[at];
        this.sound.set(key, soundResponse(this.data, this.all, one, this.heldOf(one, share)));
      }
      return this.sound.get(key);
    }

    // Loads of one set of assumptions at one place, for tests.
    loadsOf(found, at, place, scale) {
      const one = this.data.cases[at];
      const joint = new Joint(this.data, this.all, one, this.soundOf(at, pinShare(this.data, found)),
        condition(this.data, found));
      return joint.response === null ? null : [...joint.loads(joint.at, place, scale)];
    }

    // Every set of assumptions: {verdict, margin, carries, next, losses}.
    // Throws where the findings do not go with the joint; then there is no verdict.
    judge(found) {
      const { data, all } = this, rating = ratingOf(data, found.breaking);
      const state = condition(data, found), share = pinShare(data, found);
      const may = state.strength.map((s) => s * rating.running);
      const breaking = state.strength.map((s) => s * rating.breaking);
      const results = [];
      let fewest = 2; // one more that it holds is all that a verdict asks
      data.cases.forEach((one, at) => {
        const joint = new Joint(data, all, one, this.soundOf(at, share), state);
        results.push(this.judgeCase(joint, may, breaking, fewest));
        fewest = Math.min(fewest, results.at(-1).losses);
      });
      const span = (name) => [Math.min(...results.map((r) => r[name])), Math.max(...results.map((r) => r[name]))];
      const margin = span("margin"), carries = span("carries");
      const carriesAt = data.places.map((_, at) => Math.min(...results.map((r) => r.carriesAt[at])));
      const alike = results.filter((r) => r.carries <= carries[0] * (1 + EQUAL));
      const least = Math.min(...alike.map((r) => r.margin));
      const worst = alike.find((r) => r.margin <= least * (1 + EQUAL));
      const losses = Math.min(...results.map((r) => r.losses));
      // Not even the empty belt: what it pulls at some place is more than is borne there.
      const empty = data.places.some(({ empty: pull, per_width: per }, at) => pull !== null &&
        (carriesAt[at] * per <= 0 || pull > carriesAt[at] * per * (1 + 1e-9)));
      let verdict = "WATCH";
      if (losses === 0 || carries[0] < data.least_share || empty) verdict = "STOP";
      else if (margin[0] < 1 || losses === 1) verdict = "REDUCE";
      return { verdict, margin, carries, losses, next: this.named(worst.next), typical:
        { carries: results[0].carries, place: results[0].at, end: this.named(results[0].plate).end } };
    }

    named(at) {
      const { first } = this.all;
      return at < first ? { end: "leading", number: at + 1 } : { end: "trailing", number: at + 1 - first };
    }

    judgeCase(joint, may, breaking, fewest) {
      const { places, peak } = this.data;
      if (joint.response === null) {
        let next = -1;
        this.all.y.forEach((y, i) => {
          if (joint.alive[i] && (next < 0 || Math.abs(y) < Math.abs(this.all.y[next]))) next = i;
        });
        return { margin: 0, carries: 0, carriesAt: places.map(() => 0), losses: 0, next, at: 0,
          plate: next };
      }
      const { n } = this.all, used = joint.used(1, may), worst = firstLargest(used);
      const next = firstLargest(joint.used(peak, breaking)) % n;
      const carriesAt = places.map((_, place) => joint.largestPull(place, may));
      return { margin: 1 / Math.max(...used), carriesAt, carries: Math.min(...carriesAt),
        losses: joint.losses(breaking, peak, fewest), next, at: Math.floor(worst / n),
        plate: worst % n };
    }
  }

  // Of equal values the first: rounding must not say which plate goes next.
  function firstLargest(values) {
    let most = values[0];
    for (let i = 1; i < values.length; i += 1) if (values[i] > most) most = values[i];
    return values.findIndex((value) => value >= most * (1 - EQUAL));
  }

  const pinShare = (data, found) => (found.pinNow === null ? 1 : (found.pinNow / data.pin_taken) ** 4);

  globalThis.splicewright = Object.assign(globalThis.splicewright || {}, {
    jointVerdict: { Judge },
  });
})();
