// The course of the heat as this page keeps it: the last half hour fine, all before it ever coarser, so that a page left
// open for a day needs no more memory than one just opened. A point is [time_s, temp_c, low_c, high_c].

const FINE_SPAN_S = 1800;
const FINE_S = 2;
const MOST_COARSE = 1000;

export class Course {
  constructor(points = []) {
    this.points = [];
    this.coarseS = 4;
    this.add(points);
  }

  get last() {
    return this.points.at(-1);
  }

  add(points) {
    for (const point of points) {
      const before = this.points.at(-2);
      // The newest point is a mean still being taken: the next one replaces it unless it has had its time.
      if (before && this.last[0] - before[0] < FINE_S) this.points[this.points.length - 1] = point;
      else this.points.push(point);
    }
    if (this.points.length > MOST_COARSE + FINE_SPAN_S / FINE_S + 100) this.thin();
  }

  thin() {
    const fineFromS = this.last[0] - FINE_SPAN_S;
    const fine = this.points.filter((point) => point[0] >= fineFromS);
    const old = this.points.slice(0, this.points.length - fine.length);
    let coarse = old;
    while (coarse.length > MOST_COARSE - 100) {
      let lastS = -Infinity;
      coarse = old.filter((point) => {
        const isKept = point[0] - lastS >= this.coarseS;
        if (isKept) lastS = point[0];
        return isKept;
      });
      if (coarse.length > MOST_COARSE - 100) this.coarseS *= 2;
    }
    this.points = coarse.concat(fine);
  }
}
