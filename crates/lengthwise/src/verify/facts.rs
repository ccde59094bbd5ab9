//! What the job says of a material, worked out from its raw fields once more.
//!
//! The engine has its own road to the same numbers; nothing here may call it.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::Arc;

use rust_decimal::Decimal;

use super::breaks::{Tier, tiers};
use super::mitre::{Mitred, mitred};
use super::refusal::Breach;
use super::runs::{Alike, ends_of_parts, runs};
use super::work::Work;
use crate::job::{Bar, Ends, Material, Shape, Sold, Supply};
use crate::length::Length;
use crate::plan::Value;
use crate::price::Price;

/// Nanometres in a metre, and the decimals that a price per metre gains by them.
const NM_PER_METRE: i128 = 1_000_000_000;
const METRE_DECIMALS: u32 = 9;

/// A material in plain whole numbers: lengths in nanometres, money in `10^-decimals`.
#[derive(Clone)]
pub(super) struct Facts<'a> {
    pub material: &'a Material,
    pub kinds: Vec<Kind>,
    pub kerf: i128,
    pub per_cut: i128,
    /// What the mitred ends of each pair of angles take.
    mitred: Arc<HashMap<Ends, Mitred>>,
    /// Decimals of the smallest money present; `None` where bought length is compared.
    pub decimals: Option<u32>,
    pub runs: Vec<Alike<'a>>,
    /// What certificates may still take to check.
    pub work: Work,
}

/// A kind of bar.
#[derive(Clone)]
pub(super) struct Kind {
    pub length: i128,
    pub near: i128,
    pub far: i128,
    pub in_hand: bool,
    pub per_sale: u64,
    /// Bars that can be had; `None` for as many as wanted.
    pub available: Option<u64>,
    /// What one sale adds to the value of a plan, in the units of [`Facts`]; before any price break.
    pub sale: i128,
    /// Its batch, where pieces are bound to batches; 0 otherwise.
    pub batch: u32,
    /// The prices of bars with price breaks; empty for others.
    pub tiers: Vec<Tier>,
}

impl Kind {
    /// What lies between the allowances; not above zero where they eat the bar.
    pub fn usable(&self) -> i128 {
        self.length - self.near - self.far
    }
}

impl<'a> Facts<'a> {
    pub fn of(material: &'a Material) -> Result<Facts<'a>, Breach> {
        let bars = material.bars();
        let (decimals, sales) = if material.is_priced() {
            let mut costs: Vec<Money> = bars.iter().map(sale_money).collect::<Result<_, _>>()?;
            for bar in bars {
                for lower in bar.breaks() {
                    costs.push(bought_money(bar, lower.price)?);
                }
            }
            let (decimals, sales) = to_common_decimals(&costs)?;
            (Some(decimals), sales)
        } else {
            let lengths = bars.iter().map(sale_length);
            (None, lengths.collect::<Result<_, _>>()?)
        };
        let is_bound = material
            .pieces()
            .iter()
            .any(|piece| piece.batch().is_some());
        // Those of the rows first, then those of their breaks.
        let mut lower = sales.iter().skip(bars.len());
        let kinds = bars.iter().zip(&sales).map(|(bar, &sale)| {
            let mut kind = kind(bar, sale);
            kind.tiers = tiers(bar, &kind, &mut lower);
            kind.batch = if is_bound { bar.batch() } else { 0 };
            kind
        });
        let kinds: Vec<Kind> = kinds.collect();
        let mut facts = Facts {
            material,
            kinds,
            kerf: nm(material.kerf()),
            per_cut: nm(material.per_cut()),
            mitred: Arc::new(all_mitred(material)?),
            decimals,
            runs: Vec::new(),
            work: Work::new(),
        };
        facts.runs = runs(material, &facts.kinds, &|ends| Ok(facts.mitred(ends)?.all))?;
        Ok(facts)
    }

    /// The same with what is left of this work.
    pub fn sharing(self, work: &Work) -> Facts<'a> {
        let work = work.clone();
        Facts { work, ..self }
    }

    /// What a piece, or a part of one, takes of a bar by itself: its length and its mitred ends.
    pub fn takes(&self, shape: Shape) -> Result<i128, Breach> {
        Ok(nm(shape.length) + self.mitred(shape.ends)?.all)
    }

    /// The longest usable length of the bars that can be had, of a batch where one is named; zero without
    /// any.
    pub fn longest_of(&self, batch: Option<u32>) -> i128 {
        let kinds = self.kinds.iter().filter(|kind| kind.available != Some(0));
        let of_batch = kinds.filter(|kind| batch.is_none_or(|batch| kind.batch == batch));
        of_batch.map(Kind::usable).max().unwrap_or(0).max(0)
    }

    /// What one whole cut takes.
    pub fn cut(&self) -> i128 {
        self.kerf + self.per_cut
    }

    /// What the mitred ends of a piece of the job take besides its cut.
    pub fn mitred(&self, ends: Ends) -> Result<Mitred, Breach> {
        let known = self.mitred.get(&ends).copied();
        known.ok_or(Breach::NoSuchEnds { ends })
    }

    pub fn kind(&self, bar: usize) -> Result<&Kind, Breach> {
        self.kinds.get(bar).ok_or(Breach::NoSuchBar { bar })
    }

    /// The least whole number of the units that sales are counted in that comes to `value` or more; no value of
    /// the kind that plans for this material are not judged by.
    pub fn units(&self, value: Value) -> Result<i128, Breach> {
        let (money, decimals) = match (value, self.decimals) {
            (Value::Bought(length), None) => return Ok(nm(length)),
            (Value::Money(price), Some(decimals)) => (price.decimal(), decimals),
            (Value::Bought(_), Some(_)) => return Err(Breach::JudgedBy { plan: false }),
            (Value::Money(_), None) => return Err(Breach::JudgedBy { plan: true }),
        };
        let power = |exponent| 10_i128.checked_pow(exponent).ok_or(Breach::TooLarge);
        if let Some(more) = decimals.checked_sub(money.scale()) {
            let units = money.mantissa().checked_mul(power(more)?);
            return units.ok_or(Breach::TooLarge);
        }
        let divisor = power(money.scale() - decimals)?;
        let (whole, part) = (money.mantissa() / divisor, money.mantissa() % divisor);
        Ok(whole + i128::from(part > 0))
    }

    /// A number of the units that sales are counted in, as a value.
    pub fn value(&self, units: i128) -> Result<Value, Breach> {
        match self.decimals {
            None => length(units).map(Value::Bought),
            Some(decimals) => {
                let money = without_trailing_zeros(Money {
                    mantissa: units,
                    decimals,
                });
                Decimal::try_from_i128_with_scale(money.mantissa, money.decimals)
                    .ok()
                    .and_then(Price::from_decimal)
                    .map(Value::Money)
                    .ok_or(Breach::TooLarge)
            }
        }
    }
}

fn all_mitred(material: &Material) -> Result<HashMap<Ends, Mitred>, Breach> {
    let mut all = HashMap::new();
    for piece in material.pieces() {
        for ends in [piece.ends()].into_iter().chain(ends_of_parts(piece)) {
            if let Entry::Vacant(place) = all.entry(ends) {
                place.insert(mitred(material, ends)?);
            }
        }
    }
    Ok(all)
}

/// A length in whole nanometres, wide enough for any sum that is made of them.
pub(super) fn nm(length: Length) -> i128 {
    i128::from(length.nm())
}

/// The length of so many nanometres.
pub(super) fn length(nm: i128) -> Result<Length, Breach> {
    i64::try_from(nm)
        .ok()
        .and_then(Length::from_nm)
        .ok_or(Breach::TooLarge)
}

fn kind(bar: &Bar, sale: i128) -> Kind {
    let (available, in_hand) = match bar.supply() {
        Supply::InHand { available, .. } => (Some(available), true),
        Supply::Bought {
            sold, available, ..
        } => (
            available.map(|sales| bars_in(sales, sold, bar.length())),
            false,
        ),
    };
    Kind {
        length: nm(bar.length()),
        near: nm(bar.square_off().near),
        far: nm(bar.square_off().far),
        in_hand,
        per_sale: per_sale(bar),
        available,
        sale,
        batch: 0,
        tiers: Vec::new(),
    }
}

fn per_sale(bar: &Bar) -> u64 {
    match bar.supply() {
        Supply::Bought {
            sold: Sold::Pack(bars),
            ..
        } => u64::from(bars),
        Supply::Bought { .. } | Supply::InHand { .. } => 1,
    }
}

/// Whole bars in what is on offer.
fn bars_in(available: u64, sold: Sold, bar: Length) -> u64 {
    let offered = i128::from(available);
    let bars = match sold {
        Sold::Each => offered,
        Sold::Pack(bars) => offered * i128::from(bars), // 64 by 32 bits fit 128
        Sold::PerMetre => (offered * NM_PER_METRE)
            .checked_div(nm(bar))
            .unwrap_or_default(),
    };
    u64::try_from(bars).unwrap_or(u64::MAX) // more than any plan can use
}

/// An exact amount: `mantissa / 10^decimals`.
struct Money {
    mantissa: i128,
    decimals: u32,
}

fn plain(price: Price) -> Money {
    let exact = price.decimal().normalize();
    Money {
        mantissa: exact.mantissa(),
        decimals: exact.scale(),
    }
}

fn sale_money(bar: &Bar) -> Result<Money, Breach> {
    match bar.supply() {
        Supply::InHand { worth, .. } => Ok(plain(worth)),
        Supply::Bought { price, .. } => bought_money(bar, price.ok_or(Breach::TooLarge)?),
    }
}

/// What one sale of a bar that is bought costs at a price.
fn bought_money(bar: &Bar, price: Price) -> Result<Money, Breach> {
    let Money { mantissa, decimals } = plain(price);
    if !matches!(
        bar.supply(),
        Supply::Bought {
            sold: Sold::PerMetre,
            ..
        }
    ) {
        return Ok(Money { mantissa, decimals });
    }
    let mantissa = mantissa.checked_mul(nm(bar.length()));
    Ok(without_trailing_zeros(Money {
        mantissa: mantissa.ok_or(Breach::TooLarge)?,
        decimals: decimals + METRE_DECIMALS,
    }))
}

fn without_trailing_zeros(mut money: Money) -> Money {
    while money.decimals > 0 && money.mantissa % 10 == 0 {
        money.mantissa /= 10;
        money.decimals -= 1;
    }
    money
}

fn to_common_decimals(costs: &[Money]) -> Result<(u32, Vec<i128>), Breach> {
    let decimals = costs.iter().map(|cost| cost.decimals).max().unwrap_or(0);
    let rescaled = costs.iter().map(|cost| {
        10_i128
            .checked_pow(decimals - cost.decimals)
            .and_then(|factor| cost.mantissa.checked_mul(factor))
            .ok_or(Breach::TooLarge)
    });
    Ok((decimals, rescaled.collect::<Result<_, _>>()?))
}

/// Without prices a sale counts as the length it brings, and bars in hand as nothing.
fn sale_length(bar: &Bar) -> Result<i128, Breach> {
    match bar.supply() {
        Supply::InHand { .. } => Ok(0),
        Supply::Bought { .. } => nm(bar.length())
            .checked_mul(i128::from(per_sale(bar)))
            .ok_or(Breach::TooLarge),
    }
}
