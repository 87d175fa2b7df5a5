// Sound and screen: what this browser can really do, and no more said than that.

const HIGH = 880; // Hz: heard over a fume hood, and by most ears (own choice, no source)
const LOW = 660;
const EVERY = { stop: 1200, warn: 6000 }; // ms between calls

interface Lock {
  release(): Promise<void>;
  addEventListener(kind: 'release', act: () => void): void;
}

class Watch {
  /** true only while a sound would really be played */
  armed = $state(false);
  /** true only while the browser holds the screen on */
  awake = $state(false);
  #sound: AudioContext | null = null;
  #lock: Lock | null = null;
  #wanted = false;
  #timer = 0;
  #calling: 'stop' | 'warn' | null = null;

  /** Called by a tap: only then may a page make a sound. */
  async arm(): Promise<void> {
    this.#wanted = true;
    this.#sound ??= new AudioContext();
    this.#sound.onstatechange = () => this.#look();
    await this.#sound.resume();
    this.#look();
    this.#tone(LOW, 0, 0.12);
    await this.keepAwake();
  }

  async keepAwake(): Promise<void> {
    const wake = (navigator as { wakeLock?: { request(kind: 'screen'): Promise<Lock> } }).wakeLock;
    if (!this.#wanted || !wake || document.visibilityState !== 'visible') return;
    try {
      this.#lock = await wake.request('screen');
      this.awake = true;
      this.#lock.addEventListener('release', () => (this.awake = false));
    } catch {
      this.awake = false; // low battery or not allowed: the badge says that the screen may sleep
    }
  }

  /** Call until told otherwise. */
  call(state: 'stop' | 'warn' | null): void {
    if (state === this.#calling) return;
    this.#calling = state;
    clearInterval(this.#timer);
    if (!state) return;
    this.#cry();
    this.#timer = window.setInterval(() => this.#cry(), EVERY[state]);
  }

  begin(): () => void {
    const seen = () => void this.keepAwake();
    document.addEventListener('visibilitychange', seen);
    return () => {
      document.removeEventListener('visibilitychange', seen);
      this.call(null);
      this.#wanted = false;
      void this.#lock?.release();
      void this.#sound?.close();
      this.#sound = null;
      this.armed = false;
    };
  }

  #look(): void {
    this.armed = this.#sound?.state === 'running';
  }

  #cry(): void {
    if (this.#calling === 'stop') [0, 0.3, 0.6].forEach((after, k) => this.#tone(k % 2 ? LOW : HIGH, after, 0.24));
    else this.#tone(HIGH, 0, 0.2);
    navigator.vibrate?.(this.#calling === 'stop' ? [300, 100, 300] : 150);
  }

  #tone(pitch: number, after: number, long: number): void {
    const sound = this.#sound;
    if (!sound || sound.state !== 'running') return;
    const voice = sound.createOscillator();
    const level = sound.createGain();
    voice.type = 'square';
    voice.frequency.value = pitch;
    level.gain.value = 0.25;
    voice.connect(level).connect(sound.destination);
    voice.start(sound.currentTime + after);
    voice.stop(sound.currentTime + after + long);
  }
}

export const watch = new Watch();
