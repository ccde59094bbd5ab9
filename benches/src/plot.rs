//! Three small charts over the number of pieces, one line for each number of distinct lengths.

use std::path::Path;

use plotters::coord::Shift;
use plotters::prelude::*;

use crate::scale::Measured;

/// Pixels.
const SIZE: (u32, u32) = (1200, 420);
/// Gaps below this are drawn at it: a logarithm has no place for zero.
const LEAST_GAP: f64 = 1e-6;
/// Told apart in every common form of colour blindness (Okabe & Ito, from memory).
const COLOURS: [RGBColor; 3] = [
    RGBColor(0, 114, 178),
    RGBColor(213, 94, 0),
    RGBColor(0, 158, 115),
];

/// One digit: the steps of the axis are powers of ten but for rounding.
fn power(value: &f64) -> String {
    format!("{value:.0e}")
}

fn whole(value: &f64) -> String {
    format!("{value:.0}")
}

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;

/// What is drawn in one chart.
struct Chart {
    title: &'static str,
    /// The value of one size, above zero.
    value: fn(&Measured) -> Option<f64>,
    /// How a value is written at the axis.
    label: fn(&f64) -> String,
}

const CHARTS: [Chart; 3] = [
    Chart {
        title: "seconds of planning",
        value: |measured| Some(measured.seconds.max(1e-5)),
        label: power,
    },
    Chart {
        title: "gap, as a share (1e-6: none or less)",
        value: |measured| measured.gap.map(|gap| gap.max(LEAST_GAP)),
        label: power,
    },
    Chart {
        title: "peak memory, MB",
        value: |measured| measured.kilobytes.map(|peak| peak as f64 / 1000.0),
        label: whole,
    },
];

/// Draws all sizes into an SVG file.
pub fn plot(all: &[Measured], path: &Path) -> Result<(), String> {
    draw(all, path).map_err(|why| format!("{}: {why}", path.display()))
}

fn draw(all: &[Measured], path: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let root = SVGBackend::new(path, SIZE).into_drawing_area();
    root.fill(&WHITE)?;
    for (area, chart) in root.split_evenly((1, CHARTS.len())).iter().zip(&CHARTS) {
        draw_chart(all, chart, area)?;
    }
    root.present()?;
    Ok(())
}

fn draw_chart(
    all: &[Measured],
    chart: &Chart,
    area: &Area<'_>,
) -> Result<(), Box<dyn std::error::Error>> {
    let values: Vec<f64> = all.iter().filter_map(chart.value).collect();
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(0.0, f64::max);
    if values.is_empty() {
        return Ok(());
    }
    let pieces = || all.iter().map(|measured| measured.size.pieces as f64);
    let widest = pieces().fold(10.0, f64::max);
    let mut context = ChartBuilder::on(area)
        .caption(chart.title, ("sans-serif", 16))
        .margin(12)
        .x_label_area_size(36)
        .y_label_area_size(64)
        .build_cartesian_2d(
            (8.0..widest * 1.3).log_scale(),
            (least / 1.5..most * 1.5).log_scale(),
        )?;
    context
        .configure_mesh()
        .x_desc("pieces")
        .light_line_style(WHITE)
        .x_label_formatter(&whole)
        .y_label_formatter(&chart.label)
        .draw()?;
    let mut lengths: Vec<u64> = all.iter().map(|measured| measured.size.distinct).collect();
    lengths.dedup();
    for (distinct, colour) in lengths.into_iter().zip(COLOURS) {
        let points: Vec<(f64, f64)> = all
            .iter()
            .filter(|measured| measured.size.distinct == distinct)
            .filter_map(|measured| Some((measured.size.pieces as f64, (chart.value)(measured)?)))
            .collect();
        context
            .draw_series(LineSeries::new(points, colour.stroke_width(2)).point_size(3))?
            .label(format!("{distinct} lengths"))
            .legend(move |(x, y)| PathElement::new([(x, y), (x + 18, y)], colour));
    }
    context
        .configure_series_labels()
        .position(SeriesLabelPosition::UpperLeft)
        .border_style(BLACK)
        .background_style(WHITE)
        .draw()?;
    Ok(())
}
