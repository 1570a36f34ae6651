// Plays frames at the scene's speed, holds and all. A frame whose picture is not there yet is waited for.

import { picture } from "/static/server.js";

export class Player {
  constructor(stage, state, step) {
    this.stage = stage;
    this.state = state;
    this.step = step;
    this.playing = false;
  }

  async start() {
    this.playing = true;
    const period = 1000 / this.state.scene.fps;
    let due = performance.now();
    while (this.playing) {
      const next = (this.state.frame + 1) % this.state.scene.frames.length;
      this.stage.ahead(24);
      await picture(this.stage.path(next)).catch(() => {});
      due = Math.max(due + period, performance.now() - period); // what is late is not made up for by a rush
      await new Promise((done) => setTimeout(done, Math.max(0, due - performance.now())));
      if (this.playing) this.step(next);
    }
  }

  stop() {
    this.playing = false;
  }
}
