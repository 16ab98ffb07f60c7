/** The jobs that this device remembers for one complaint; in memory alone where the browser keeps nothing. */

const MOST = 30;

/** Jobs `{opened, entries, undone, about}`, one of which is looked at. */
export class Shelf {
  constructor(name, keeper) {
    this.name = `benchlore bench ${name}`;
    this.keeper = keeper;
    this.isKept = true;
    this.jobs = [];
    this.current = 0;
    try {
      const { jobs, current } = JSON.parse(keeper().getItem(this.name) ?? "{}");
      if (Array.isArray(jobs) && jobs.every(isJob)) [this.jobs, this.current] = [jobs, Number(current) || 0];
    } catch {
      this.isKept = false;
    }
    if (this.jobs.length === 0) this.begin();
    this.current = Math.min(Math.max(0, this.current), this.jobs.length - 1);
    this.keep();
  }

  get job() {
    return this.jobs[this.current];
  }

  /** Begin another job; one on which nothing was done gives way, and the oldest ones in the end. */
  begin() {
    this.jobs = this.jobs.filter((job) => job.entries.length > 0).slice(1 - MOST);
    this.jobs.push({ opened: new Date().toISOString(), entries: [], undone: [], about: {} });
    this.current = this.jobs.length - 1;
    this.keep();
  }

  show(place) {
    this.current = place;
    this.keep();
  }

  remove() {
    this.jobs.splice(this.current, 1);
    if (this.jobs.length === 0) this.begin();
    this.show(this.jobs.length - 1);
  }

  enter(entry) {
    this.job.entries.push({ ...entry, at: new Date().toISOString() });
    this.job.undone = [];
    this.keep();
  }

  /** Take back entries down to so many. */
  undo(to = this.job.entries.length - 1) {
    this.job.undone.unshift(...this.job.entries.splice(to));
    this.keep();
  }

  /** Put back what was taken back last. */
  redo() {
    this.job.entries.push(this.job.undone.shift());
    this.keep();
  }

  tell(name, text) {
    this.job.about[name] = text;
    this.keep();
  }

  keep() {
    try {
      this.keeper().setItem(this.name, JSON.stringify({ jobs: this.jobs, current: this.current }));
      this.isKept = true;
    } catch {
      this.isKept = false;
    }
  }
}

const isJob = (job) =>
  job !== null && typeof job === "object" && Array.isArray(job.entries) && Array.isArray(job.undone) && typeof job.about === "object";
