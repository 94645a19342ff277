import { useRef } from 'react';

interface DialProps {
  readonly disabled: boolean;
  /** Clockwise from straight up, degrees; null while unknown. */
  readonly angleDeg: number | null;
  /** While it is being turned. */
  readonly onTurn: (angleDeg: number) => void;
  /** When it is let go. */
  readonly onSet: (angleDeg: number) => void;
}

/** The comb seen from the side that is watched, up is up: drag the hand to the way the dancer faces. */
export function AngleDial({ disabled, angleDeg, onTurn, onSet }: DialProps) {
  const face = useRef<SVGSVGElement>(null);
  const angleAt = (event: React.PointerEvent) => {
    const box = face.current!.getBoundingClientRect();
    const right = event.clientX - box.left - box.width / 2;
    const up = box.top + box.height / 2 - event.clientY;
    return Math.round(((Math.atan2(right, up) * 180) / Math.PI + 360) % 360) % 360;
  };
  const turn = ((angleDeg ?? 0) * Math.PI) / 180;
  return (
    <svg
      ref={face}
      className="dial"
      viewBox="-32 -32 64 64"
      // biome-ignore lint/a11y/noNoninteractiveElementToInteractiveRole: drawn as a picture, worked as a slider
      role="slider"
      tabIndex={disabled ? -1 : 0}
      aria-disabled={disabled}
      aria-label="Comb angle on a dial"
      aria-valuemin={0}
      aria-valuemax={359}
      aria-valuenow={angleDeg === null ? 0 : Math.round(angleDeg)}
      aria-valuetext={angleDeg === null ? 'not known' : `${angleDeg} degrees clockwise from straight up`}
      onPointerDown={(event) => {
        if (disabled) return;
        event.currentTarget.setPointerCapture(event.pointerId);
        onTurn(angleAt(event));
      }}
      onPointerMove={(event) => event.buttons === 1 && !disabled && onTurn(angleAt(event))}
      onPointerUp={(event) => !disabled && onSet(angleAt(event))}
      onKeyDown={(event) => {
        const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 15, PageDown: -15 }[
          event.key
        ];
        if (step === undefined || disabled) return;
        event.preventDefault();
        event.stopPropagation();
        onTurn(((angleDeg ?? 0) + step + 360) % 360);
      }}
      onBlur={() => angleDeg !== null && !disabled && onSet(angleDeg)}
    >
      <circle r="27" />
      {Array.from({ length: 12 }, (_, hour) => (
        <path key={`tick ${hour * 30}`} d="M0 -27V-23" transform={`rotate(${hour * 30})`} />
      ))}
      <path className="up" d="M-3 -28L0 -32L3 -28Z" />
      {angleDeg !== null && (
        <>
          <path className="hand" d="M0 8L0 -18" transform={`rotate(${angleDeg})`} />
          <circle className="head" r="4" cx={19 * Math.sin(turn)} cy={-19 * Math.cos(turn)} />
        </>
      )}
    </svg>
  );
}
